package book

import (
	"fmt"
	"math"

	"soakline/device"
	"soakline/device/scpi"
)

// figure is a reading as a block holds it: as little of it as gives the reading
// back bit for bit.
type figure struct {
	at          int64 // microseconds since 1970
	coefficient int64 // of the digits; the float's bits where there are none
	value       float64
	u           float64 // one standard uncertainty
	long        string  // digits whose coefficient does not fit
	exponent    int32
	kind        figureKind
}

// figureKind says what a figure's digits are.
type figureKind byte

const (
	figureDecimal  figureKind = iota // coefficient times ten to the exponent
	figureComputed                   // no digits: a float
	figureLong                       // digits as text
	// figureBeside is added where the value is not what the digits give.
	figureBeside figureKind = 4
)

// toFigure fails for what is no figure: a value or uncertainty that is not finite,
// or an uncertainty below 0.
func toFigure(r *device.Reading) (figure, error) {
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return figure{}, fmt.Errorf("%w: value %v is no finite number", ErrInvalid, r.Value)
	}
	if u := r.StandardUncertainty; !(u >= 0) || math.IsInf(u, 0) {
		return figure{}, fmt.Errorf("%w: standard uncertainty %v is not a finite number from 0 up", ErrInvalid, u)
	}
	f := figure{at: r.At.UnixMicro(), value: r.Value, u: r.StandardUncertainty}
	coefficient, exponent, fits := r.Digits.Parts()
	switch {
	case fits:
		f.coefficient, f.exponent = coefficient, exponent
	case r.Digits.Known():
		f.kind, f.long = figureLong, r.Digits.String()
	default:
		f.kind, f.coefficient = figureComputed, int64(math.Float64bits(r.Value)) // #nosec G115 -- the same 64 bits
		return f, nil
	}
	if math.Float64bits(r.Digits.Float64()) != math.Float64bits(r.Value) {
		f.kind |= figureBeside
	}
	return f, nil
}

// reading is what toFigure was given, its time to the microsecond.
func (f *figure) reading(measure device.Measure) device.Reading {
	r := device.Reading{Measure: measure, Value: f.value, At: fromMicro(f.at), StandardUncertainty: f.u}
	switch f.kind &^ figureBeside {
	case figureDecimal:
		r.Digits = scpi.NewDecimal(f.coefficient, f.exponent)
	case figureLong:
		r.Digits, _ = scpi.ParseDecimal(f.long) // it was read when the block was
	}
	return r
}

// digitsValue is the value that the digits give.
func (f *figure) digitsValue() float64 {
	if f.kind&^figureBeside == figureDecimal {
		return decimalValue(f.coefficient, f.exponent)
	}
	digits, _ := scpi.ParseDecimal(f.long) // it was read when the block was
	return digits.Float64()
}
