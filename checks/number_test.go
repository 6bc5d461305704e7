package checks

import (
	"encoding/json"
	"math"
	"testing"
)

// JSON (RFC 8259, 6) has no form for what is not a number.
func TestNumberInJSON(t *testing.T) {
	for _, row := range []struct {
		n    Number
		want string
	}{
		{0, "0"}, {Number(math.Copysign(0, -1)), "-0"}, {1.25e-9, "1.25e-9"}, {0.1, "0.1"},
		{Number(math.NaN()), "null"}, {Number(math.Inf(1)), "null"}, {Number(math.Inf(-1)), "null"},
	} {
		if got, err := json.Marshal(row.n); err != nil || string(got) != row.want {
			t.Errorf("%v: %s, %v; want %s", float64(row.n), got, err, row.want)
		}
	}
}
