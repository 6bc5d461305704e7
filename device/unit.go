package device

// Unit is the SI unit (or the dimensionless ratio) that a measure is expressed in.
type Unit struct {
	// Symbol is what stands behind a printed figure: "V", "Hz"; empty for a share, which
	// is printed in percent.
	Symbol string
	// Plural is the base unit as metric names and line-protocol fields spell it:
	// "volts" (Prometheus naming practice, unit in the plural).
	Plural string
	// KeySuffix ends a YAML or JSON key that carries this unit: "_v", "_hz".
	KeySuffix string
}

// The units that measures use.
var (
	Volt    = Unit{Symbol: "V", Plural: "volts", KeySuffix: "_v"}
	Ampere  = Unit{Symbol: "A", Plural: "amperes", KeySuffix: "_a"}
	Ohm     = Unit{Symbol: "ohm", Plural: "ohms", KeySuffix: "_ohm"}
	Farad   = Unit{Symbol: "F", Plural: "farads", KeySuffix: "_f"}
	Hertz   = Unit{Symbol: "Hz", Plural: "hertz", KeySuffix: "_hz"}
	Second  = Unit{Symbol: "s", Plural: "seconds", KeySuffix: "_s"}
	Celsius = Unit{Symbol: "°C", Plural: "celsius", KeySuffix: "_celsius"}
	Ratio   = Unit{Symbol: "", Plural: "ratio", KeySuffix: "_ratio"} // a share: 0.04 is 4 %
	// Factor is one voltage over another: a crest factor, a balance.
	Factor = Unit{Symbol: "V/V", Plural: "ratio", KeySuffix: "_ratio"}
)
