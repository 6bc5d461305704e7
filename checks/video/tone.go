package video

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

const (
	// mostTones is how many tones are reported, the strongest first.
	mostTones = 4
	// lowestTone keeps slow shading out.
	lowestTone = 0.3e6
	// longestSpectrum is the most samples of one spectrum, mostSpectra how many
	// are averaged.
	longestSpectrum, mostSpectra = 1280, 16
	// spectrumInterval: samples closer than this are averaged before a spectrum.
	spectrumInterval = 16e-9
)

// measureTones finds steady sines on the longest flat parts: lines in the mean
// spectrum that stand out of the noise about them. Noise alone makes one about
// once in a thousand records. What lies on the subcarrier is left out: it can't be
// told from pale colour.
func (a *analysis) measureTones() {
	pieces, dt := a.flatPieces()
	if len(pieces) == 0 || len(pieces[0].v) < 24 {
		return
	}
	power, perBin := meanSpectrum(pieces, dt)
	least := math.Max(0.3e-3*a.scale(), 0.15*a.step)
	for _, k := range peaks(power, len(pieces)) {
		hertz := (float64(k) + peakOffset(power, k)) * perBin
		if hertz < lowestTone || hertz > 0.9/(2*dt) || math.Abs(hertz-a.subcarrier()) < 1.5*perBin {
			continue
		}
		hertz = sharpen(pieces, dt, hertz, 0.2*perBin)
		t := toneAt(pieces, dt, hertz)
		t.RMSVolts = t.RMSVolts.times(1 / boxGain(hertz, dt, a.record.SampleIntervalSeconds))
		t.Hertz = Measured{Value: hertz, U: 0.05 * perBin}
		if t.RMSVolts.Value > least {
			a.result.Tones = append(a.result.Tones, t)
		}
	}
	tones := a.result.Tones
	slices.SortFunc(tones, func(x, y Tone) int { return cmp.Compare(y.RMSVolts.Value, x.RMSVolts.Value) })
	a.result.Tones = tones[:min(len(tones), mostTones)]
}

// subcarrier is the frequency of the burst, or nominal where there is none.
func (a *analysis) subcarrier() float64 {
	if b := a.result.BurstHertz; b.OK() {
		return b.Value
	}
	return a.nominal.subcarrierHertz
}

// flatPieces returns the longest flat parts, all cut to one length, dt seconds
// between samples. Where the picture has none, sync tips and back porches serve.
func (a *analysis) flatPieces() (pieces []gate, dt float64) {
	all := make([]gate, 0, len(a.flats)+len(a.gates))
	for _, f := range a.flats {
		if f.coloured || f.seconds() < 3*microsecond || a.flatClipped(f) {
			continue
		}
		v, start := a.record.between(f.from+settle, f.to-0.35*microsecond)
		all = append(all, gate{v: v, start: start})
	}
	if len(all) == 0 {
		all = append(all, a.gates...)
	}
	longest := 0
	for _, g := range all {
		longest = max(longest, len(g.v))
	}
	all = slices.DeleteFunc(all, func(g gate) bool { return len(g.v) < longest*3/5 })
	take := max(1, int(spectrumInterval/a.record.SampleIntervalSeconds))
	dt = float64(take) * a.record.SampleIntervalSeconds
	n := longestSpectrum
	for _, i := range spaced(len(all), mostSpectra) {
		v := averaged(all[i].v, take)
		start := all[i].start + (dt-a.record.SampleIntervalSeconds)/2
		pieces = append(pieces, gate{v: v, start: start})
		n = min(n, len(v))
	}
	n = smoothLength(n)
	for i := range pieces {
		pieces[i].v = levelled(pieces[i].v[:n])
	}
	return pieces, dt
}

// averaged returns means of take samples each; v itself if take is 1.
func averaged(v []float64, take int) []float64 {
	if take == 1 {
		return v
	}
	out := make([]float64, len(v)/take)
	for i := range out {
		out[i] = mean(v[i*take : (i+1)*take])
	}
	return out
}

// levelled returns v less its straight line.
func levelled(v []float64) []float64 {
	middle, slope, _ := straight(v)
	centre := float64(len(v)-1) / 2
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = x - middle - slope*(float64(i)-centre)
	}
	return out
}

// smoothLength is the largest number up to n with no prime factor above 5, for
// which the transform is quick.
func smoothLength(n int) int {
	for ; n > 1; n-- {
		m := n
		for _, p := range []int{2, 3, 5} {
			for m%p == 0 {
				m /= p
			}
		}
		if m == 1 {
			return n
		}
	}
	return n
}

// meanSpectrum averages the powers of Hann-windowed pieces; bins are perBin hertz
// apart. The scale does not matter to what follows.
func meanSpectrum(pieces []gate, dt float64) (power []float64, perBin float64) {
	n := len(pieces[0].v)
	fft := fourier.NewFFT(n)
	power = make([]float64, n/2+1)
	hann := make([]float64, n)
	for i := range hann {
		hann[i] = 1
	}
	window.Hann(hann)
	windowed := make([]float64, n)
	var coefficients []complex128
	for _, g := range pieces {
		for i, x := range g.v {
			windowed[i] = x * hann[i]
		}
		coefficients = fft.Coefficients(coefficients, windowed)
		for k, c := range coefficients {
			power[k] += real(c)*real(c) + imag(c)*imag(c)
		}
	}
	return power, 1 / (float64(n) * dt)
}

// peaks returns the bins that stand out of the median of their neighbours. The mean
// of m noise powers is gamma distributed; the factor keeps one bin in about a
// million below it (fitted to the gamma quantiles for m 1 to 100, and the median's
// 0.7 for m 1).
func peaks(power []float64, m int) []int {
	factor := 1 + 5.2/math.Sqrt(float64(m)) + 15/float64(m)
	const stretch, about = 16, 24
	var found []int
	for begin := 3; begin < len(power)-1; begin += stretch {
		end := min(begin+stretch, len(power)-1)
		floor := median(power[max(2, begin-about):min(len(power)-1, end+about)])
		for k := begin; k < end; k++ {
			if power[k] > factor*floor && power[k] >= power[k-1] && power[k] > power[k+1] && floor > 0 {
				found = append(found, k)
			}
		}
	}
	return found
}

// peakOffset is how far, in bins, the top of a parabola through the logarithms of
// three bins lies from the middle one.
func peakOffset(power []float64, k int) float64 {
	l, m, r := math.Log(power[k-1]), math.Log(power[k]), math.Log(power[k+1])
	bend := l - 2*m + r
	if !(bend < 0) {
		return 0
	}
	return math.Min(math.Max((l-r)/(2*bend), -0.5), 0.5)
}

// sharpen returns the frequency within reach of hertz at which sines fitted to the
// pieces have the most power, by golden-section search.
func sharpen(pieces []gate, dt, hertz, reach float64) float64 {
	power := func(f float64) float64 {
		var sum float64
		for _, g := range pieces {
			z := phasor(g.v, g.start, dt, f)
			sum += real(z)*real(z) + imag(z)*imag(z)
		}
		return sum
	}
	ratio := (math.Sqrt(5) - 1) / 2
	low, high := hertz-reach, hertz+reach
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	pa, pb := power(a), power(b)
	for range 8 {
		if pa > pb {
			high, b, pb = b, a, pa
			a = high - ratio*(high-low)
			pa = power(a)
		} else {
			low, a, pa = a, b, pb
			b = low + ratio*(high-low)
			pb = power(b)
		}
	}
	return (low + high) / 2
}

// toneAt fits the sine of one frequency to every piece and averages its power, less
// what noise adds to it.
func toneAt(pieces []gate, dt, hertz float64) Tone {
	powers := make([]float64, len(pieces))
	var noise float64
	for i, g := range pieces {
		amplitude := cmplx.Abs(phasor(g.v, g.start, dt, hertz))
		powers[i] = amplitude * amplitude / 2
		n := float64(len(g.v))
		left := math.Max(0, variance(g.v)*(n-1)/n-powers[i])
		noise += 2 * left / n / float64(len(pieces))
	}
	p := meanOf(powers, 0)
	rms := math.Sqrt(math.Max(0, p.Value-noise))
	u := math.Max(p.U, math.Sqrt(2*noise*p.Value/float64(len(pieces)))) / (2 * math.Max(rms, 1e-12))
	return Tone{RMSVolts: Measured{Value: rms, U: math.Hypot(u, 0.03*rms)}}
}

// boxGain is what averaging samples own seconds apart over dt leaves of a sine.
func boxGain(hertz, dt, own float64) float64 {
	if dt <= own {
		return 1
	}
	return math.Sin(math.Pi*hertz*dt) / (dt / own * math.Sin(math.Pi*hertz*own))
}
