package checks

import (
	"encoding/json"
	"math"
)

// Number is a figure as JSON has it: null where it is not known or has no bound,
// because 0 would be a figure.
type Number float64

// MarshalJSON writes the figure with all its digits, or null.
func (n Number) MarshalJSON() ([]byte, error) {
	if x := float64(n); !math.IsNaN(x) && !math.IsInf(x, 0) {
		return json.Marshal(x)
	}
	return []byte("null"), nil
}
