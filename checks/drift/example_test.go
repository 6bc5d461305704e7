package drift_test

import (
	"encoding/json"
	"fmt"
	"time"

	"soakline/checks/drift"
)

// A saved record of a rail, one reading a minute, against its limits.
func ExampleAnalyse() {
	var seconds, volts []float64
	for minute := range 240 {
		seconds = append(seconds, 60*float64(minute))
		ripple := 0.001 * float64(minute%3-1)
		volts = append(volts, 5-0.01*float64(minute)/60+ripple)
	}
	low, high := 4.75, 5.25
	r, err := drift.Analyse(seconds, volts, drift.Options{LowLimit: &low, HighLimit: &high})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f mV per hour, %s: 4.75 V in %.1f h (%.1f to %.1f)\n",
		1000*r.SlopePerHour, r.Outlook, r.HoursToLimit, r.HoursToLimitLow, r.HoursToLimitHigh)
	fmt.Printf("left its baseline at about %.0f min, said so at %.0f min\n", r.ChangeAt/60, r.CUSUMAlarmAt/60)
	// Output:
	// -10.0 mV per hour, ahead: 4.75 V in 21.0 h (20.8 to 21.2)
	// left its baseline at about 49 min, said so at 52 min
}

// A soak: readings come one by one, and each says what it brought about.
func ExampleMonitor() {
	m, err := drift.NewMonitor(drift.Options{WarmUp: 5 * time.Minute, Baseline: 30 * time.Minute})
	if err != nil {
		fmt.Println(err)
		return
	}
	begin := time.Date(2031, 4, 5, 22, 0, 0, 0, time.UTC)
	for second := range 2 * 3600 {
		celsius := 31 + 0.05*float64(second%7-3)
		if second > 3600 {
			celsius += 0.5 * float64(second-3600) / 3600
		}
		at := begin.Add(time.Duration(second) * time.Second)
		if m.Observe(at, celsius)&drift.LearntBaseline != 0 {
			b, _ := m.Baseline()
			fmt.Printf("%s  baseline %.2f, sd %.2f\n", at.Format(time.TimeOnly), b.Target, b.Sigma)
		}
	}
	for _, a := range m.Alarms() {
		fmt.Printf("%s  %v: off by %+.2f since about %s\n", a.At.Format(time.TimeOnly), a.Kind, a.By, a.Since.Format(time.TimeOnly))
	}
	// Output:
	// 22:35:00  baseline 31.00, sd 0.10
	// 23:13:56  EWMA: off by +0.05 since about 23:03:17
	// 23:10:12  CUSUM: off by +0.06 since about 23:03:17
}

func ExampleResult_MarshalJSON() {
	r, err := drift.Analyse([]float64{0, 1800, 3600}, []float64{1, 2, 3}, drift.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	text, _ := json.MarshalIndent(r, "", " ")
	fmt.Println(string(text))
	// Output:
	// {
	//  "n": 3,
	//  "mean": 2,
	//  "sd": 1,
	//  "slope_per_hour": 2,
	//  "slope_low": null,
	//  "slope_high": null,
	//  "theil_sen_per_hour": 2,
	//  "mann_kendall_p": 0.3333333333333333,
	//  "hours_to_limit": null,
	//  "hours_to_limit_low": null,
	//  "hours_to_limit_high": null,
	//  "ewma_alarm_at": null,
	//  "cusum_alarm_at": null,
	//  "trend_alarm_at": null
	// }
}
