package reservoir

import (
	"soakline/checks"
	"soakline/device"
)

// The figures of texts, printed as everywhere else.
func volt(x float64) string { return checks.Figure(rounded(x), 0, device.Volt) }

func ohm(x float64) string { return checks.Figure(rounded(x), 0, device.Ohm) }

func second(x float64) string { return checks.Figure(rounded(x), 0, device.Second) }

func percent(share float64) string { return checks.Figure(rounded(share), 0, device.Ratio) }

func secondU(e Estimate) string { return checks.Figure(e.Value, e.U, device.Second) }
