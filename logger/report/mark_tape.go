package report

import (
	"fmt"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"soakline/checks"
)

// tapeMark draws a soak as a tape over its planned time: what was read solid, gaps
// left white, excursions as notches whose depth is how far out they went, and what
// was never run hatched.
type tapeMark struct {
	begin, end, planned time.Time
	parts               []CheckPart
}

func newTape(c Certificate) tapeMark {
	planned := c.Soak.Begin.Add(time.Duration(c.Soak.PlannedS * float64(time.Second)))
	if planned.Before(c.Soak.End) {
		planned = c.Soak.End
	}
	return tapeMark{begin: c.Soak.Begin, end: c.Soak.End, planned: planned, parts: c.Checks}
}

func (t tapeMark) check() error {
	if !t.planned.After(t.begin) {
		return fmt.Errorf("tape: the soak ends at %s and begins at %s", t.planned.Format(time.RFC3339), t.begin.Format(time.RFC3339))
	}
	return nil
}

func (t tapeMark) caption() string {
	gaps, excursions := 0, 0
	for _, part := range t.parts {
		gaps, excursions = gaps+len(part.Gaps), excursions+part.Outside+part.Borderline
	}
	return fmt.Sprintf("tape of the soak: %s of %s, gaps: %d, excursions: %d", checks.Duration(t.end.Sub(t.begin)), checks.Duration(t.planned.Sub(t.begin)), gaps, excursions)
}

// drawOn fills the canvas.
func (t tapeMark) drawOn(c draw.Canvas) {
	x := func(at time.Time) vg.Length {
		share := float64(at.Sub(t.begin)) / float64(t.planned.Sub(t.begin))
		return c.Min.X + vg.Length(min(max(share, 0), 1))*(c.Max.X-c.Min.X)
	}
	const hair = 0.8
	fillRectangle(c, seaGreen, c.Min.X, c.Min.Y, x(t.end), c.Max.Y)
	for at := x(t.end) + 3; at < c.Max.X; at += 5 {
		c.StrokeLine2(pen(greyInk, 0.5), at-3, c.Min.Y, min(at+3, c.Max.X), c.Max.Y)
	}
	for _, part := range t.parts {
		for _, gap := range part.Gaps {
			fillRectangle(c, paper, x(gap.From), c.Min.Y, max(x(gap.To), x(gap.From)+hair), c.Max.Y)
		}
	}
	for _, part := range t.parts {
		for _, e := range part.Excursions {
			to := t.end
			if e.To != nil {
				to = *e.To
			}
			colour := ochre
			if e.State == checks.Outside {
				colour = brick
			}
			depth := (c.Max.Y - c.Min.Y) * vg.Length(part.depth(float64(e.Worst.Value)))
			fillRectangle(c, colour, x(e.From)-hair, c.Max.Y-depth, max(x(to), x(e.From)+hair), c.Max.Y)
		}
	}
	c.StrokeLines(pen(ink, 0.6), []vg.Point{{X: c.Min.X, Y: c.Min.Y}, {X: c.Max.X, Y: c.Min.Y}, {X: c.Max.X, Y: c.Max.Y}, {X: c.Min.X, Y: c.Max.Y}, {X: c.Min.X, Y: c.Min.Y}})
}

// depth is how deep a notch is, as a share of the tape: a third for a figure on its
// limit, all of it for one that went as far out as the limit's middle is in.
func (p CheckPart) depth(worst float64) float64 {
	share := p.bracket.Limit.Share(worst)
	if !(share > 1) {
		return 0.33
	}
	return min(0.33+0.67*(share-1), 1)
}
