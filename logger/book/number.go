package book

import (
	"database/sql"
	"fmt"
	"math"

	"soakline/device"
	"soakline/device/scpi"
)

// number is a reading's figure in the columns coefficient, exponent, digits, bits
// and u: as little of it as gives Value, Digits and StandardUncertainty back bit
// for bit.
type number struct {
	coefficient sql.NullInt64
	exponent    sql.NullInt32
	digits      sql.NullString
	bits        sql.NullInt64
	u           float64
}

// toNumber fails for what is no figure: a value or uncertainty that is not finite,
// or an uncertainty below 0.
func toNumber(r device.Reading) (number, error) {
	if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return number{}, fmt.Errorf("%w: value %v is no finite number", ErrInvalid, r.Value)
	}
	if math.IsNaN(r.StandardUncertainty) || math.IsInf(r.StandardUncertainty, 0) || r.StandardUncertainty < 0 {
		return number{}, fmt.Errorf("%w: standard uncertainty %v is not a finite number from 0 up", ErrInvalid, r.StandardUncertainty)
	}
	stored := number{u: r.StandardUncertainty}
	coefficient, exponent, fits := r.Digits.Parts()
	switch {
	case fits:
		stored.coefficient = sql.NullInt64{Int64: coefficient, Valid: true}
		stored.exponent = sql.NullInt32{Int32: exponent, Valid: true}
	case r.Digits.Known():
		stored.digits = sql.NullString{String: r.Digits.String(), Valid: true}
	}
	bits := math.Float64bits(r.Value)
	if !r.Digits.Known() || math.Float64bits(r.Digits.Float64()) != bits {
		stored.bits = sql.NullInt64{Int64: int64(bits), Valid: true} // #nosec G115 -- the same 64 bits
	}
	return stored, nil
}

// into fills the figure of a reading from the columns.
func (n *number) into(r *device.Reading) error {
	switch {
	case n.coefficient.Valid:
		r.Digits = scpi.NewDecimal(n.coefficient.Int64, n.exponent.Int32)
	case n.digits.Valid:
		digits, err := scpi.ParseDecimal(n.digits.String)
		if err != nil {
			return fmt.Errorf("digits in the book: %w", err)
		}
		r.Digits = digits
	}
	if n.bits.Valid {
		r.Value = math.Float64frombits(uint64(n.bits.Int64)) // #nosec G115 -- the same 64 bits
	} else {
		r.Value = r.Digits.Float64()
	}
	r.StandardUncertainty = n.u
	return nil
}

// values are the columns in the order of a statement's placeholders.
func (n *number) values() []any {
	return []any{n.coefficient, n.exponent, n.digits, n.bits, n.u}
}

// targets are the columns for Scan, in the same order.
func (n *number) targets() []any {
	return []any{&n.coefficient, &n.exponent, &n.digits, &n.bits, &n.u}
}
