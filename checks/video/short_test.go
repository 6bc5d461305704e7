package video_test

import (
	"math/rand/v2"
	"testing"

	"soakline/checks/video"
)

// Two to four lines, cut anywhere, at many rates, resolutions, sync widths and
// bandwidths, with the range known or not: the system is right, levels are close, and
// no set-up is blamed. Bounds are wider than at six lines and more, and follow the
// figures' own uncertainty (k 3).
func TestShortRecordsOverVariations(t *testing.T) {
	t.Parallel()
	rates := []float64{12.5e6, 14.318e6, 20e6, 25e6, 40e6, 50e6, 62.5e6, 100e6}
	for seed := range uint64(1000) {
		random := rand.New(rand.NewPCG(seed, 777))
		s := variation(seed + 50000)
		s.rate = rates[random.IntN(len(rates))]
		s.lines, s.noBurst = 2+random.IntN(3), false
		s.noise = 0.002 + 0.008*random.Float64()
		s.bits = 8 + 4*random.IntN(2)
		s.standard.syncWidth = (4.4 + 0.6*random.Float64()) * us
		s.low, s.high = -0.6, 1.25
		if random.IntN(4) == 0 {
			s.lowPass = 3e6
		}
		v := record(s)
		if random.IntN(2) == 0 {
			v.StepVolts, v.LowVolts, v.HighVolts = 0, 0, 0
		}
		r, err := video.Analyse(v, video.Options{Limits: video.WorkshopLimits()})
		if err != nil {
			t.Fatal(err)
		}
		if text := grosslyWrong(s, r); text != "" {
			t.Errorf("seed %d, %s, %d lines at %.4g MS/s: %s", seed, s.standard.name, s.lines, s.rate/1e6, text)
		}
	}
}

func grosslyWrong(s scene, r video.Result) (text string) {
	d, g := s.standard, s.gain
	if string(r.System) != d.name {
		text = "system " + string(r.System) + "; "
	}
	_, rise := s.truthOfEdge()
	text += off("sync", r.SyncVolts, g*d.sync, 0.010+3*r.SyncVolts.U) +
		off("picture", r.PictureVolts, g*d.white, 0.010+3*r.PictureVolts.U) +
		off("black to white", r.BlackToWhiteVolts, g*(d.white-d.setup), 0.010+3*r.BlackToWhiteVolts.U) +
		off("rise", r.RiseSeconds, rise, 1/s.rate+3*r.RiseSeconds.U) +
		off("fall", r.FallSeconds, rise, 1/s.rate+3*r.FallSeconds.U) +
		off("sync width", r.SyncWidthSeconds, d.syncWidth, 0.05*us+0.5/s.rate)
	for _, f := range r.Findings {
		if setUpCodes[f.Code] && (f.Code != "too-few-samples" || s.rate > 19e6) {
			text += "diagnosis " + string(f.Code) + ": " + f.Text
		}
	}
	return text
}
