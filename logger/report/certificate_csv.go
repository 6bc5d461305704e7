package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"soakline/checks"
)

// csvHead are the columns of the certificate as CSV: one fact in a row. value has
// all digits in the unit named, text the same as every screen prints it.
var csvHead = []string{"part", "test_point", "measure", "item", "value", "unit", "text"}

// CSV writes the certificate as one table of facts.
func (c Certificate) CSV(w io.Writer) error {
	t := csvTable{rows: [][]string{csvHead}}
	t.text("unit", "asset", c.Unit)
	t.text("unit", "console", c.Console)
	t.text("verdict", "outcome", string(c.Outcome))
	t.time("verdict", "given", c.Given)
	for _, reason := range c.Reasons {
		t.text("verdict", "reason", reason)
	}
	for _, remark := range c.Remarks {
		t.text("verdict", "remark", remark)
	}
	t.text("sheet", "name", c.Sheet.Name)
	t.text("sheet", "sha256", c.Sheet.Hash)
	c.csvFinal(&t)
	c.csvSoak(&t)
	for _, part := range c.Checks {
		part.csv(&t)
	}
	c.csvRest(&t)
	table := csv.NewWriter(w)
	if err := table.WriteAll(t.rows); err != nil {
		return fmt.Errorf("write the CSV: %w", err)
	}
	return nil
}

// csvTable gathers rows.
type csvTable struct{ rows [][]string }

func (t *csvTable) text(part, item, text string) { t.row(part, "", "", item, "", "", text) }

func (t *csvTable) time(part, item string, at time.Time) {
	t.text(part, item, at.UTC().Format(time.RFC3339Nano))
}

func (t *csvTable) row(cells ...string) { t.rows = append(t.rows, cells) }

// number writes a figure with all its digits; one that is not known is empty.
func number(n checks.Number) string {
	if x := float64(n); !math.IsNaN(x) && !math.IsInf(x, 0) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return ""
}

func (c Certificate) csvFinal(t *csvTable) {
	if c.Final == nil {
		return
	}
	t.row("final", "", "", "final", strconv.FormatInt(c.Final.Number, 10), "", "")
	t.time("final", "begin", c.Final.Begin)
	for _, step := range c.Final.Steps {
		t.row("step", "", "", step.Step, "", "", string(step.Outcome))
		if step.Said != "" {
			t.row("step", "", "", step.Step+" said", "", "", step.Said)
		}
		for _, f := range step.Figures {
			t.row("step", f.TestPoint, f.Measure, step.Step, number(f.Figure.Value), f.Unit, f.Figure.Text)
			t.row("step", f.TestPoint, f.Measure, step.Step+" limit", "", f.Unit, f.Limit.Text)
		}
	}
}

func (c Certificate) csvSoak(t *csvTable) {
	s := c.Soak
	if s == nil {
		return
	}
	t.row("soak", "", "", "soak", strconv.FormatInt(s.Number, 10), "", "")
	t.text("soak", "bench", c.Bench)
	t.text("soak", "place", s.Place)
	t.time("soak", "begin", s.Begin)
	t.time("soak", "end", s.End)
	t.row("soak", "", "", "planned", number(checks.Number(s.PlannedS)), "s", "")
	t.row("soak", "", "", "evidence", number(s.EvidenceRatio), "", percentText(s.EvidenceRatio))
}

func (p CheckPart) csv(t *csvTable) {
	add := func(item, value, unit, text string) { t.row("check", p.TestPoint, p.Measure, item, value, unit, text) }
	add("outcome", "", "", string(p.Outcome))
	add("limit-low", number(p.Limit.Low), p.Unit, p.Limit.Text)
	add("limit-high", number(p.Limit.High), p.Unit, p.Limit.Text)
	add("lowest", number(p.Low.Value), p.Unit, p.Low.Text)
	add("mean", number(p.Mean.Value), p.Unit, p.Mean.Text)
	add("highest", number(p.High.Value), p.Unit, p.High.Text)
	add("readings", strconv.Itoa(p.Readings), "", "")
	add("evidence", number(p.EvidenceRatio), "", percentText(p.EvidenceRatio))
	add("outside", strconv.Itoa(p.Outside), "", "")
	add("borderline", strconv.Itoa(p.Borderline), "", "")
	for _, e := range p.Excursions {
		to := "still there at the end"
		if e.To != nil {
			to = e.To.UTC().Format(time.RFC3339Nano)
		}
		add("excursion "+string(e.State), number(e.Worst.Value), p.Unit, fmt.Sprintf("%s to %s: %s", e.From.UTC().Format(time.RFC3339Nano), to, e.Worst.Text))
	}
	for _, gap := range p.Gaps {
		add("gap", number(checks.Number(gap.To.Sub(gap.From).Seconds())), "s", gap.From.UTC().Format(time.RFC3339Nano)+": "+gap.Cause)
	}
}

func (c Certificate) csvRest(t *csvTable) {
	if c.Changes != nil {
		for _, row := range c.Changes.Rows {
			add := func(item, value, text string) {
				t.row("change", row.TestPoint, row.Measure, item, value, row.Unit, text)
			}
			add(c.Changes.Before, number(row.Before.Value), row.Before.Text)
			add(c.Changes.After, number(row.After.Value), row.After.Text)
			add("change", number(row.Change), row.Text)
		}
	}
	for _, part := range c.Capacitors {
		for _, f := range part.Figures {
			t.row("capacitor", part.TestPoint, part.Measure, f.Kind+" of "+f.At.UTC().Format(time.RFC3339), number(f.Figure.Value), part.Unit, f.Figure.Text)
		}
		t.row("capacitor", part.TestPoint, part.Measure, "trend", "", "", part.Trend)
	}
	for _, i := range c.Instruments {
		t.row("instrument", "", "", i.Name, "", "", i.Identity)
		t.row("instrument", "", "", i.Name+" calibrated", "", "", i.Calibrated)
		t.row("instrument", "", "", i.Name+" calibration due", "", "", i.CalibrationDue)
	}
	t.row("chain", "", "", "position", strconv.FormatInt(c.Chain.Position, 10), "", "")
	t.text("chain", "hash", c.Chain.Hash)
	t.text("record", "identity", c.Identity)
	t.text("record", "program", c.Program)
	t.time("record", "written", c.Written)
	for _, caution := range c.Cautions {
		t.row("caution", caution.TestPoint, "", "", "", "", caution.Text)
	}
	for _, text := range c.Statement {
		t.text("statement", "", text)
	}
}
