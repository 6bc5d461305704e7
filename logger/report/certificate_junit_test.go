package report

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/joshdk/go-junit"

	"soakline/checks"
)

// TestBuildServersReadTheVerdict: another reader of JUnit XML finds as passed what
// passed, as failed what failed, and what is undecided as an error, never as skipped
// or passed. The form is fixed by no standard; the reader is github.com/joshdk/go-junit.
func TestBuildServersReadTheVerdict(t *testing.T) {
	want := map[string]junit.Status{"pass": junit.StatusPassed, "fail": junit.StatusFailed, "undecided": junit.StatusError}
	for name, s := range stories {
		t.Run(name, func(t *testing.T) {
			c := certified(t, s)
			suites := readJUnit(t, c)
			verdict := suites[0].Tests[0]
			if len(suites) != 2 || verdict.Name != "verdict" || verdict.Status != want[name] {
				t.Errorf("%d suites, the first case is %+v", len(suites), verdict)
			}
			if suites[0].Properties["chain-hash"] != c.Chain.Hash || suites[0].Properties["sheet-sha256"] != c.Sheet.Hash {
				t.Errorf("properties %v", suites[0].Properties)
			}
			if name != "pass" && verdict.Error.Error() != strings.Join(append(c.Reasons, c.Remarks...), "\n") {
				t.Errorf("reasons %q, want %q", verdict.Error, c.Reasons)
			}
			soak := suites[1]
			for i, part := range c.Checks {
				if got := soak.Tests[i]; got.Name != part.TestPoint+" "+part.Measure || got.Status != want[string(part.Outcome)] || !strings.Contains(got.SystemOut, part.Mean.Text) {
					t.Errorf("check %d, %s: %+v", i, part.Outcome, got)
				}
			}
			if len(soak.Tests) != len(c.Checks) || soak.Name != fmt.Sprintf("soak %d", c.Soak.Number) {
				t.Errorf("suite %s has %d cases", soak.Name, len(soak.Tests))
			}
		})
	}
}

// TestBuildServersReadEveryStep: a step that was skipped is undecided, and so an error.
func TestBuildServersReadEveryStep(t *testing.T) {
	c := certified(t, stories["pass"])
	end := soakBegin.Add(6 * time.Minute)
	c.Outcome, c.Reasons, c.Soak = checks.Fail, []string{"rail: rail-5v is outside"}, nil
	c.Final = &FinalPart{Number: 3, Begin: soakBegin, End: &end, Steps: []StepPart{
		{Step: "picture", Kind: "question", Outcome: checks.Pass, Said: "yes, < 2 % & steady"},
		{Step: "rail", Kind: "measure", Outcome: checks.Fail, Reasons: []ReasonPart{{Text: "rail-5v is outside", Causes: []string{"open ground"}}},
			Figures: []FinalFigure{{TestPoint: "rail-5v", Measure: "dc-voltage", Figure: FigurePart{5.31, "5.3100 V"}, Limit: LimitPart{Low: 4.75, High: 5.25, Nominal: checks.Number(math.NaN()), Text: "4.75 to 5.25 V"}}}},
		{Step: "sound", Kind: "question", Outcome: checks.Undecided, Said: "skipped: no cable", Reasons: []ReasonPart{{Text: "sound was skipped: no cable"}}},
		{Step: "never reached", Kind: "wait", Outcome: checks.Undecided},
	}}
	suites := readJUnit(t, c)
	if len(suites) != 2 || suites[1].Name != "final test 3" || len(suites[1].Tests) != 4 {
		t.Fatalf("suites %+v", suites)
	}
	for i, want := range []struct {
		status  junit.Status
		message string
		out     string
	}{
		{junit.StatusPassed, "", "yes, < 2 % & steady"},
		{junit.StatusFailed, "rail-5v is outside. Look for: open ground.", "rail-5v dc-voltage: 5.3100 V, limit 4.75 to 5.25 V"},
		{junit.StatusError, "sound was skipped: no cable", "skipped: no cable"},
		{junit.StatusError, "undecided", ""},
	} {
		if got := suites[1].Tests[i]; got.Status != want.status || got.Message != want.message || got.SystemOut != want.out || got.Classname != "Brambling 8 B8-0147" {
			t.Errorf("step %d: %+v", i, got)
		}
	}
	if text := paperOf(t, c, JUnit); !strings.Contains(text, `<testsuites name="B8-0147" tests="5" failures="2" errors="2" skipped="0">`) || !strings.Contains(text, `time="360.000"`) {
		t.Errorf("counts in\n%s", text)
	}
}

// readJUnit has the certificate read by another reader, and counted against itself.
func readJUnit(t *testing.T, c Certificate) []junit.Suite {
	t.Helper()
	suites, err := junit.IngestReader(strings.NewReader(paperOf(t, c, JUnit)))
	must(t, err)
	for _, s := range suites {
		counted := junit.Totals{Tests: len(s.Tests)}
		for _, one := range s.Tests {
			switch one.Status {
			case junit.StatusPassed:
				counted.Passed++
			case junit.StatusFailed:
				counted.Failed++
			case junit.StatusError:
				counted.Error++
			}
		}
		counted.Duration = s.Totals.Duration
		if counted != s.Totals {
			t.Errorf("suite %s says %+v and has %+v", s.Name, s.Totals, counted)
		}
	}
	return suites
}
