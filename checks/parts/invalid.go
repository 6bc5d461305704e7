package parts

import (
	"errors"
	"fmt"
	"math"
)

// MistakeError is one value of a network that cannot be calculated with.
type MistakeError struct {
	// Key is the value's name with its unit, as in "source_ohm".
	Key string
	// Value is what was given.
	Value float64
	// Want says what is wanted, as in "above 0".
	Want string
}

// Error says which value, what was given and what is wanted.
func (e *MistakeError) Error() string {
	return fmt.Sprintf("%s is %v, wanted %s", e.Key, e.Value, e.Want)
}

// mistakes collects what is wrong with a network, so that all of it is told at once.
type mistakes []error

func (m *mistakes) add(ok bool, key string, value float64, want string) {
	if !ok {
		*m = append(*m, &MistakeError{Key: key, Value: value, Want: want})
	}
}

// above0 wants a finite figure above 0.
func (m *mistakes) above0(key string, value float64) {
	m.add(value > 0 && !math.IsInf(value, 1), key, value, "above 0")
}

// notBelow0 wants a finite figure of 0 or more.
func (m *mistakes) notBelow0(key string, value float64) {
	m.add(value >= 0 && !math.IsInf(value, 1), key, value, "0 or more")
}

// aboveOrOpen wants a figure above 0; +Inf stands for nothing connected.
func (m *mistakes) aboveOrOpen(key string, value float64) {
	m.add(value > 0, key, value, "above 0, or +Inf for nothing connected")
}

func (m *mistakes) finite(key string, value float64) {
	m.add(!math.IsNaN(value) && !math.IsInf(value, 0), key, value, "a finite number")
}

func (m mistakes) err() error { return errors.Join(m...) }

// finite hands a result on unless a figure of it ran out of range, which takes
// values that are many powers of ten apart.
func finite[R interface{ Rows() []Row }](result R) (R, error) {
	for _, row := range result.Rows() {
		if math.IsNaN(row.Value) || math.IsInf(row.Value, 0) {
			var none R
			return none, fmt.Errorf("%s comes out as %v: the values given are too far apart", row.Label, row.Value)
		}
	}
	return result, nil
}
