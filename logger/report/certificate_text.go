package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/checks"
)

// clock writes a moment by the bench's clock.
func (c Certificate) clock(t time.Time) string { return t.In(c.zone).Format("2 Jan 2006 15:04 MST") }

// facts are what is said right under the verdict.
func (c Certificate) facts() []string {
	var lines []string
	if f := c.Final; f != nil {
		line := fmt.Sprintf("Final test %d at place %s, begun %s", f.Number, f.Place, c.clock(f.Begin))
		if f.End != nil {
			line += fmt.Sprintf(", took %s", checks.Duration(f.End.Sub(f.Begin).Round(time.Second)))
		}
		lines = append(lines, line+fmt.Sprintf("; %s.", counted(len(f.Steps), "step")))
		if f.GivenUp != "" {
			lines = append(lines, "Given up: "+f.GivenUp+".")
		}
	}
	if s := c.Soak; s != nil {
		line := fmt.Sprintf("Soak %d at place %s, %s to %s: %s", s.Number, s.Place, c.clock(s.Begin), c.clock(s.End), checks.Duration(s.End.Sub(s.Begin)))
		if planned := time.Duration(s.PlannedS * float64(time.Second)); planned > s.End.Sub(s.Begin) {
			line += " of " + checks.Duration(planned)
		}
		line += ", evidence " + percentText(s.EvidenceRatio)
		if s.Stopped != "" {
			line += "; stopped: " + s.Stopped
		}
		lines = append(lines, line+": "+string(s.Outcome)+".")
	}
	switch {
	case c.Outcome == checks.Pass && c.Final != nil:
		lines = append(lines, "Every step was taken, and every figure kept to the workshop's limits.")
	case c.Outcome == checks.Pass:
		lines = append(lines, "Every check stayed within the workshop's limits.")
	}
	return lines
}

// changesText says which rounds are compared.
func (c Certificate) changesText() string {
	return fmt.Sprintf("Before: %s, %s. After: %s, %s.", c.Changes.Before, c.clock(c.Changes.BeforeBegin), c.Changes.After, c.clock(c.Changes.AfterBegin))
}

// record are the lines about what the verdict rests on.
func (c Certificate) record() []string {
	lines := []string{fmt.Sprintf("Test sheet %s, sha256 %s", c.Sheet.Name, c.Sheet.Hash)}
	for _, i := range c.Instruments {
		identity := i.Identity
		if identity == "" {
			identity = "gave no identity"
		}
		lines = append(lines, fmt.Sprintf("Instrument %s: %s (%s, since %s)%s", i.Name, identity, i.Port, c.clock(i.Since), i.calibration()))
	}
	origin := ""
	if c.Chain.Origin != "" {
		origin = " (" + c.Chain.Origin + ")"
	}
	again := "soakline judge "
	if c.Final != nil {
		again += fmt.Sprintf("--final %d", c.Final.Number)
	} else {
		again += strconv.FormatInt(c.Soak.Number, 10)
	}
	return append(lines,
		fmt.Sprintf("Verdict given %s, number %d in the book's chain, hash %s%s. To compare: soakline book check --chain %s",
			c.clock(c.Given), c.Chain.Position, c.Chain.Hash, origin, c.Chain.Text()),
		fmt.Sprintf("Written %s by %s. To give the verdict again: %s", c.clock(c.Written), c.Program, again))
}

// calibration says when an instrument was calibrated and until when that holds.
func (i InstrumentPart) calibration() string {
	var parts []string
	if i.Calibrated != "" {
		parts = append(parts, "calibrated "+i.Calibrated)
	}
	if i.CalibrationDue != "" {
		parts = append(parts, "due "+i.CalibrationDue)
	}
	if len(parts) == 0 {
		return ", no calibration date given"
	}
	if i.AsOfToday {
		parts = append(parts, "as the bench's file says today")
	}
	return ", " + strings.Join(parts, ", ")
}

// shownReasons are the reasons as a page shows them: what is said of several checks
// in the same words stands once, behind their names.
func (c Certificate) shownReasons() []string {
	var names []string
	for _, part := range c.Checks {
		names = append(names, part.name())
	}
	return together(names, c.Reasons)
}

// together joins sentences that begin with different names and go on alike.
func together(names, sentences []string) []string {
	at := map[string]int{}
	var joined []string
	for _, sentence := range sentences {
		i := slices.IndexFunc(names, func(name string) bool { return strings.HasPrefix(sentence, name) })
		if i < 0 {
			joined = append(joined, sentence)
			continue
		}
		rest := strings.TrimPrefix(sentence, names[i])
		if k, known := at[rest]; known {
			joined[k] = strings.TrimSuffix(joined[k], rest) + ", " + sentence
			continue
		}
		at[rest] = len(joined)
		joined = append(joined, sentence)
	}
	return joined
}

// troubles are the lines about what kept checks from passing.
func (c Certificate) troubles() []string {
	var names, lines []string
	for _, part := range c.Checks {
		names = append(names, part.name())
		if text := part.trouble(c); text != "" {
			lines = append(lines, text)
		}
	}
	return together(names, lines)
}

// name is a check's test point and measure.
func (p CheckPart) name() string { return p.TestPoint + " " + p.Measure }

// trouble says in one line what kept a check from passing beside its reasons, or is
// empty.
func (p CheckPart) trouble(c Certificate) string {
	var parts []string
	if p.Outside > 0 {
		parts = append(parts, counted(p.Outside, "excursion")+" outside")
	}
	if p.Borderline > 0 {
		parts = append(parts, counted(p.Borderline, "excursion")+" in the guard band")
	}
	if len(p.Gaps) > 0 {
		parts = append(parts, fmt.Sprintf("%s without a reading, the longest %s", counted(len(p.Gaps), "time"), checks.Duration(time.Duration(p.LongestGapS*float64(time.Second)))))
	}
	for i, e := range p.Excursions {
		if i == 3 {
			parts = append(parts, fmt.Sprintf("and %d more", len(p.Excursions)-i))
			break
		}
		to := "the end"
		if e.To != nil {
			to = e.To.In(c.zone).Format("15:04:05")
		}
		parts = append(parts, fmt.Sprintf("%s to %s: %s", e.From.In(c.zone).Format("2 Jan 15:04:05"), to, e.Worst.Text))
	}
	if len(parts) == 0 {
		return ""
	}
	return p.name() + ": " + strings.Join(parts, "; ")
}

func counted(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// cut parts a printed figure from its expanded uncertainty.
func (f FigurePart) cut() (figure, expanded string) {
	figure, expanded, _ = strings.Cut(f.Text, " ± ")
	return figure, expanded
}

// spanText is from where to where the readings lay, with their unit once where the
// two have the same.
func (p CheckPart) spanText() string {
	low, _ := p.Low.cut()
	high, _ := p.High.cut()
	if low == high {
		return low // one reading, or none that is known
	}
	_, unit, _ := strings.Cut(high, " ")
	return strings.TrimSuffix(low, " "+unit) + " to " + high
}

// percentText writes a share as a percentage; what is not quite all is never 100.
func percentText(share checks.Number) string {
	s := float64(share)
	switch {
	case math.IsNaN(s):
		return checks.NotKnown
	case s < 1:
		s = math.Floor(s*1000) / 1000
	}
	return strconv.FormatFloat(s*100, 'f', -1, 64) + " %"
}
