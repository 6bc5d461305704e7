package audio

import (
	"fmt"
	"math"
	"strconv"

	"soakline/checks"
	"soakline/device"
)

// volts prints a voltage, or a level against full scale where volts are not known.
func (a *analysis) volts(m Measured) string { return levelText(m, a.result.Relative) }

func levelText(m Measured, relative bool) string {
	if !relative {
		return checks.Figure(m.Value, m.U, device.Volt)
	}
	if m.Value == 0 {
		return "nothing at all"
	}
	return DecibelText(Measured{Value: math.Abs(m.Value), U: m.U}.Decibels(1), "dB") + " of full scale"
}

// share prints percent.
func share(m Measured) string { return checks.Figure(m.Value/100, m.U/100, device.Ratio) }

func hertz(m Measured) string { return checks.Figure(m.Value, m.U, device.Hertz) }

func seconds(s float64) string { return checks.Figure(s, 0, device.Second) }

// DecibelText prints a level with the unit given (dB, dBV, dBu) to a hundredth of a
// decibel, or coarser where its uncertainty U = 2 u is: "-10.02 dBV ± 0.03".
func DecibelText(m Measured, unit string) string {
	if !m.OK() || math.IsInf(m.Value, 0) {
		return checks.NotKnown
	}
	u := checks.CoverageFactor * m.U
	decimals := 2
	if u >= 0.1 {
		decimals = 1
	}
	round := math.Pow(10, float64(decimals))
	text := strconv.FormatFloat(math.Round(m.Value*round)/round+0, 'f', decimals, 64) + " " + unit
	if u < 0.005 || math.IsNaN(u) || math.IsInf(u, 0) {
		return text
	}
	return text + " ± " + strconv.FormatFloat(u, 'f', decimals, 64)
}

// signedDecibels is DecibelText with the sign shown.
func signedDecibels(m Measured) string {
	if m.Value > 0 {
		return fmt.Sprintf("+%s", DecibelText(m, "dB"))
	}
	return DecibelText(m, "dB")
}
