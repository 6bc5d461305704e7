package checks

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// inUTC ends a sentence of a soak's verdict within that of a final test, which has to
// be the same wherever it is given.
const inUTC = " (times in UTC)"

// soakSentence is what a final test says of a soak.
func soakSentence(soak int64, sentence string) string {
	return fmt.Sprintf("soak %d: %s", soak, sentence)
}

// In returns the verdict in words for people whose clock is that of loc: the times in
// what it says of these soaks are that clock's. What is said of other soaks stays in
// UTC, and says so. The outcome and all figures stay; it is not to be kept.
func (v FinalVerdict) In(loc *time.Location, soaks ...FinalSoak) FinalVerdict {
	local := map[string]string{}
	for _, soak := range soaks {
		here := soak.Verdict.Sentences(loc)
		for i, sentence := range soak.Verdict.Sentences(time.UTC) {
			local[soakSentence(soak.Soak, sentence)+inUTC] = soakSentence(soak.Soak, here[i])
		}
	}
	inWords := func(reasons []StepReason) []StepReason {
		reasons = slices.Clone(reasons)
		for i, r := range reasons {
			step := string(r.Step) + ": "
			if text, known := local[strings.TrimPrefix(r.Text, step)]; known {
				reasons[i].Text = step + text
			}
		}
		return reasons
	}
	v.Reasons, v.Steps = inWords(v.Reasons), slices.Clone(v.Steps)
	for i, step := range v.Steps {
		v.Steps[i].Reasons = inWords(step.Reasons)
	}
	return v
}
