package page

import (
	"time"

	"soakline/checks"
	"soakline/logger"
)

// LiveSnapshot is the first event that a page gets: all of it. Run is another after
// each start of the daemon.
type LiveSnapshot struct {
	Run   string    `json:"run"`
	Bench BenchView `json:"bench"`
}

// LiveChange is what has changed since the event before: figures and the list of
// soaks at once, all else about once a second. What it names takes the place of
// what the page has.
type LiveChange struct {
	At     time.Time   `json:"at"`
	Checks []LiveCheck `json:"checks,omitempty"`
	Soaks  []SoakView  `json:"soaks,omitempty"`
	// Gone are the soaks that are no longer under way.
	Gone        []int64          `json:"gone,omitempty"`
	Instruments []InstrumentView `json:"instruments,omitempty"`
	// Finished are all verdicts that are shown.
	Finished *[]VerdictView `json:"finished,omitempty"`
	Book     *BookView      `json:"book,omitempty"`
}

// empty tells whether there is nothing to tell.
func (c LiveChange) empty() bool {
	return len(c.Checks)+len(c.Soaks)+len(c.Gone)+len(c.Instruments) == 0 && c.Finished == nil && c.Book == nil
}

// LiveCheck is how one check of a soak stands: CheckView without its lists.
type LiveCheck struct {
	Soak       int64        `json:"soak"`
	TestPoint  string       `json:"test_point"`
	Measure    string       `json:"measure"`
	State      checks.State `json:"state"`
	Since      time.Time    `json:"since"`
	At         *time.Time   `json:"at"`
	Value      *float64     `json:"value"`
	Figure     *float64     `json:"figure"`
	U          *float64     `json:"u"`
	Text       string       `json:"text"`
	Bracket    string       `json:"bracket"`
	ShareRatio *float64     `json:"share_ratio"`
	Readings   int          `json:"readings"`
	Refused    string       `json:"refused,omitempty"`
}

func viewLive(soak int64, c logger.CheckStatus) LiveCheck {
	return LiveCheck{Soak: soak, TestPoint: string(c.Check.TestPoint), Measure: string(c.Check.Measure), State: c.State, Since: c.Since,
		At: moment(c.At), Value: number(c.Value), Figure: number(c.Figure), U: number(c.U), Text: c.FigureText(),
		Bracket: c.Bracket().Text(), ShareRatio: number(c.Limit.Share(c.Figure)), Readings: c.Readings, Refused: c.Refused}
}
