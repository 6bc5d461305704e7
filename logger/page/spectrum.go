package page

import (
	"math"

	"soakline/checks/audio"
)

// SpectrumView is the power of an audio output by frequency, in columns of equal width
// in the logarithm of the frequency: the first begins at BeginHz, and PerDecade of them
// make a factor of ten. LowDBV and HighDBV are the least and the most power of any bin
// in each, null where there is none.
type SpectrumView struct {
	BeginHz   float64 `json:"begin_hz"`
	PerDecade int     `json:"per_decade"`
	BinHz     float64 `json:"bin_hz"`
	LowDBV    Column  `json:"low_dbv"`
	HighDBV   Column  `json:"high_dbv"`
}

const (
	// spectrumBegin and spectrumEnd are the part that is drawn, in hertz.
	spectrumBegin, spectrumEnd = 10, 24000
	spectrumPerDecade          = 240
	// quietest is the least power that is told, in dBV: less is rounding.
	quietest = -200
)

// viewSpectrum puts a spectrum into the form of the API; nil where there is none.
func viewSpectrum(s audio.Spectrum) *SpectrumView {
	if !(s.BinHertz > 0) {
		return nil
	}
	top := math.Min(spectrumEnd, s.BinHertz*float64(len(s.Power)-1))
	columns := max(0, int(math.Ceil(spectrumPerDecade*math.Log10(top/spectrumBegin))))
	view := &SpectrumView{BeginHz: spectrumBegin, PerDecade: spectrumPerDecade, BinHz: s.BinHertz, LowDBV: make(Column, columns), HighDBV: make(Column, columns)}
	for i := range columns {
		view.LowDBV[i], view.HighDBV[i] = math.NaN(), math.NaN()
	}
	for k := int(math.Ceil(spectrumBegin / s.BinHertz)); k < len(s.Power); k++ {
		at := int(spectrumPerDecade * math.Log10(float64(k)*s.BinHertz/spectrumBegin))
		if k == 0 || at >= columns {
			continue
		}
		dbv := math.Max(quietest, math.Round(100*10*math.Log10(s.Power[k]))/100)
		if low := view.LowDBV[at]; !(low <= dbv) {
			view.LowDBV[at] = dbv
		}
		if high := view.HighDBV[at]; !(high >= dbv) {
			view.HighDBV[at] = dbv
		}
	}
	return view
}
