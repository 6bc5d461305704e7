package report

// statement is what no paper of this program leaves out.
func statement() []string {
	return []string{
		"This paper says what instruments read, and how the readings stand to a test sheet. The program cannot see whether a part is live, " +
			"discharged or isolated; no figure, word or verdict here says that something may be touched.",
		"The limits are those of the workshop's test sheet. They are no approval, type test or statement of compliance.",
		"Local electrical rules, workplace law, the maker's service instructions and the instruments' own ratings come first. " +
			"Mains-side and picture-tube work is for people trained or licensed for it.",
	}
}
