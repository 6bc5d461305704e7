package reservoir

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// The keys are relied on from outside; what was not found is null, never 0.
func TestJSONKeys(t *testing.T) {
	text, err := json.Marshal(analysed(t, nil, nil, DischargeOptions{}))
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"v0_v":null,"tau_s":null,"tau_u_s":null,"floor_v":null,"safe_v":null,"seconds_to_safe":null,"rebound_v":null,` +
		`"capacitance_f":null,"capacitance_u_f":null,"load_ohm":null,"findings":[{"code":"too-few-readings"`
	if !strings.HasPrefix(string(text), want) {
		t.Errorf("%s", text)
	}
}

func FuzzAnalyseDischarge(f *testing.F) {
	f.Add(12.0, 41.0, 0.1, 0.5, 1e-3, 100, 50)
	f.Add(-1e8, 1e-300, math.Inf(1), -1.0, 1e9, 9, 3)
	f.Fuzz(func(t *testing.T, v0, tau, floor, interval, jump float64, n, at int) {
		seconds, volts := make([]float64, min(max(n, 0), 300)), make([]float64, min(max(n, 0), 300))
		for i := range volts {
			seconds[i] = float64(i) * interval
			volts[i] = decayOf(v0, tau, floor)(seconds[i])
			if i > at {
				volts[i] += jump
			}
		}
		d, err := AnalyseDischarge(seconds, volts, DischargeOptions{BelowVolts: 2, LoadOhms: 1000, ExpectedTauSeconds: 30})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := json.Marshal(d); err != nil || d.SecondsToBelow.Value < 0 || d.Capacitance.Value < 0 {
			t.Fatalf("%+v %v", d, err)
		}
	})
}
