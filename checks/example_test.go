package checks_test

import (
	"fmt"
	"math"
	"slices"
	"time"

	"soakline/checks"
	"soakline/device"
)

func ExampleJudge() {
	sheet := checks.Sheet{
		Name: "brambling-8", Console: "Brambling 8",
		TestPoints: []checks.TestPoint{{Name: "rail-5v", Checks: []checks.Check{{
			Measure: device.DCVoltage, FreshFor: 3 * time.Second,
			Limit: checks.Limit{
				Low: 4.75, High: 5.25, Nominal: 5, Source: "common practice, no source",
				Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1},
			},
		}}}},
		Soak: checks.SoakPlan{Duration: 10 * time.Second, EvidenceAtLeast: 0.99, LongestGap: time.Minute},
	}
	begin := time.Date(2026, 3, 1, 2, 11, 0, 0, time.UTC)
	var readings []checks.Tagged
	for i, volts := range []float64{5.01, 5.01, 4.63, 4.66, 5.01, 5.00} {
		readings = append(readings, checks.Tagged{TestPoint: "rail-5v", Reading: device.Reading{
			Measure: device.DCVoltage, Value: volts, StandardUncertainty: 0.003, At: begin.Add(time.Duration(2*i) * time.Second),
		}})
	}
	verdict := checks.Judge(sheet, checks.SoakRecord{
		Unit: "B8-0147", Begin: begin, End: begin.Add(10 * time.Second), Readings: slices.Values(readings),
	})
	fmt.Println(verdict.Outcome, verdict.Evidence)
	fmt.Println(verdict.Sentences(time.UTC)[0])
	// Output:
	// fail 1
	// rail-5v dc-voltage left its limits 02:11:04.000 to 02:11:08.000 (4.6300 V, low limit 4.75 V, uncertainty 0.0060 V)
}

func ExampleFigure() {
	fmt.Println(checks.Figure(5.0121, 0.0009, device.Volt))
	fmt.Println(checks.Figure(0.0031, 0, device.Volt))
	fmt.Println(checks.ASCII(checks.Figure(2130e-6, 10e-6, device.Farad)))
	fmt.Println(checks.Figure(math.NaN(), 0.001, device.Volt))
	// Output:
	// 5.0121 V ± 0.0018
	// 3.1 mV
	// 2130 uF +/- 20
	// not known
}

func ExampleBracket() {
	limit := checks.Limit{Low: 4.75, High: 5.25, Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1}}
	b := checks.Bracket{Limit: limit, U: 0.02, Reading: 5.012, Low: 4.95, High: 5.08, State: checks.Within}
	fmt.Printf("%q\n%q\n", b.Text(), checks.ASCII(b.Text()))
	// Output:
	// "    [░     ·|─·    ░]    "
	// "    [~     .|-.    ~]    "
}

func ExampleConformanceProbability() {
	limit := checks.Limit{Low: 4.75, High: 5.25}
	fmt.Printf("%.4f\n", checks.ConformanceProbability(limit, 5.20, 0.02))
	// Output: 0.9938
}
