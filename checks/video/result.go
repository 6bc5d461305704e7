package video

import (
	"math"

	"soakline/checks"
)

// Result is everything that a record says. Levels are as they stand at the scope's
// input, in volts.
type Result struct {
	System System
	// LinesFound counts the line sync pulses.
	LinesFound int
	// LinesPerField is the distance of two vertical syncs; NaN where the record
	// does not hold two.
	LinesPerField     float64
	LinePeriodSeconds Measured
	SyncWidthSeconds  Measured // 50 % points

	SyncTipVolts, BlankingVolts Measured
	// BlackVolts and WhiteVolts are not measured where the picture has no black
	// or no white in it.
	BlackVolts, WhiteVolts Measured
	// PeakToPeakVolts is highest less lowest sample; LumaPeakToPeakVolts is sync
	// tip to white without the subcarrier.
	PeakToPeakVolts, LumaPeakToPeakVolts Measured
	SyncVolts                            Measured // blanking less sync tip
	PictureVolts                         Measured // white less blanking
	BlackToWhiteVolts                    Measured
	// ExpectedBlackToWhiteVolts is what black to white should be at this level:
	// nominal, scaled by how far the level is from nominal.
	ExpectedBlackToWhiteVolts float64
	// LevelShare is the level as a share of nominal: from sync tip to white, or
	// from sync alone where the picture has no white.
	LevelShare Measured

	BurstPeakToPeakVolts Measured
	BurstHertz           Measured

	// OvershootPercent is how far a rising picture edge goes above the state that
	// follows, UndershootPercent how far a falling one goes below it (IEEE 181),
	// in percent of the transition.
	OvershootPercent, UndershootPercent Measured
	RiseSeconds, FallSeconds            Measured // 10-90 %
	BandwidthHertz                      Measured // estimated from rise and fall

	// NoiseVolts is the rms of flat parts without steady tones, from about 0.3 MHz
	// up to NoiseBandwidthHertz.
	NoiseVolts          Measured
	NoiseBandwidthHertz float64
	Tones               []Tone
	TiltPercent         Measured // over one line
	// HumVolts is the peak-to-peak wander of blanking at HumHertz; not measured on
	// a record much shorter than a mains cycle.
	HumVolts Measured
	HumHertz float64

	Coupling string
	State    checks.State
	// Findings are in the order of their table. Which of them others explain is
	// said by checks.Shown.
	Findings []checks.Finding

	// LineStartSeconds are the leading edges of line sync, for laying lines over
	// each other.
	LineStartSeconds []float64
	// blankings are the lines' blanking levels at the instants blankingAt, for hum
	// over several captures.
	blankingAt, blankings []float64
}

// Tone is a steady sine on flat parts of the picture.
type Tone struct {
	Hertz    Measured
	RMSVolts Measured
}

// FieldHertz is the field rate: 50 or 59.94 Hz interlaced, a little off on consoles
// with a whole number of lines in a field. NaN where the record is too short to tell.
func (r Result) FieldHertz() float64 {
	return 1 / (r.LinesPerField * r.LinePeriodSeconds.Value)
}

// newResult has nothing measured in it.
func newResult() Result {
	n := notMeasured()
	return Result{
		LinesPerField: math.NaN(), LinePeriodSeconds: n, SyncWidthSeconds: n,
		SyncTipVolts: n, BlankingVolts: n, BlackVolts: n, WhiteVolts: n,
		PeakToPeakVolts: n, LumaPeakToPeakVolts: n, SyncVolts: n, PictureVolts: n,
		BlackToWhiteVolts: n, ExpectedBlackToWhiteVolts: math.NaN(), LevelShare: n,
		BurstPeakToPeakVolts: n, BurstHertz: n,
		OvershootPercent: n, UndershootPercent: n, RiseSeconds: n, FallSeconds: n, BandwidthHertz: n,
		NoiseVolts: n, NoiseBandwidthHertz: math.NaN(), TiltPercent: n,
		HumVolts: n, HumHertz: math.NaN(),
		State: checks.Within,
	}
}
