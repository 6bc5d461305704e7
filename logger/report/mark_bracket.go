package report

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"soakline/checks"
)

// bracketMark draws how a check stands: the bracket is its limits, the tint inside
// what the guard band takes, the thin line where the readings have been, the tick
// their mean. What has left stands outside of the bracket.
type bracketMark struct{ checks.Bracket }

// bracketMargin is how much of a bracket's width is shown on either side of it.
const bracketMargin = 0.25

func (b bracketMark) check() error { return nil }

func (b bracketMark) caption() string { return string(b.State) }

// drawOn fills the canvas.
func (b bracketMark) drawOn(c draw.Canvas) {
	middle, half := (c.Min.Y+c.Max.Y)/2, (c.Max.Y-c.Min.Y)*0.42
	b.drawGuard(c, middle-half, middle+half)
	b.drawEnd(c, b.Limit.Low, 0, middle, half)
	b.drawEnd(c, b.Limit.High, 1, middle, half)
	if b.State == checks.Silent {
		c.StrokeLine2(pen(greyInk, 0.8, 1, 3), b.x(c, 0.08), middle, b.x(c, 0.92), middle)
		return
	}
	low, high, tick := b.Place(b.Low), b.Place(b.High), b.Place(b.Reading)
	if !math.IsNaN(low) && !math.IsNaN(high) {
		c.StrokeLine2(pen(b.ink(), 1), b.x(c, low), middle, b.x(c, high), middle)
	}
	if !math.IsNaN(tick) {
		c.StrokeLine2(pen(b.ink(), 1.8), b.x(c, tick), middle-half*0.8, b.x(c, tick), middle+half*0.8)
	}
}

// x is where a place along the bracket lies; what is farther out than there is
// paper stands at its edge.
func (b bracketMark) x(c draw.Canvas, place float64) vg.Length {
	share := (place + bracketMargin) / (1 + 2*bracketMargin)
	return c.Min.X + vg.Length(min(max(share, 0.01), 0.99))*(c.Max.X-c.Min.X)
}

func (b bracketMark) ink() color.Color {
	switch b.State {
	case checks.Outside:
		return brick
	case checks.Borderline:
		return ochre
	default:
		return seaGreen
	}
}

// drawEnd draws one end of the bracket, if the limit has it.
func (b bracketMark) drawEnd(c draw.Canvas, limit, place float64, middle, half vg.Length) {
	if math.IsInf(limit, 0) {
		return
	}
	foot := vg.Length(3)
	if place > 0 {
		foot = -foot
	}
	x := b.x(c, place)
	c.StrokeLines(pen(ink, 1), []vg.Point{{X: x + foot, Y: middle + half}, {X: x, Y: middle + half}, {X: x, Y: middle - half}, {X: x + foot, Y: middle - half}})
}

// drawGuard tints the guard band at each end.
func (b bracketMark) drawGuard(c draw.Canvas, bottom, top vg.Length) {
	low, high, err := b.Limit.AcceptanceInterval(b.U)
	if err != nil {
		fillRectangle(c, guardTint, b.x(c, 0), bottom, b.x(c, 1), top)
		return
	}
	if low > b.Limit.Low {
		fillRectangle(c, guardTint, b.x(c, 0), bottom, b.x(c, b.Place(low)), top)
	}
	if high < b.Limit.High {
		fillRectangle(c, guardTint, b.x(c, b.Place(high)), bottom, b.x(c, 1), top)
	}
}
