package video_test

import (
	"fmt"

	"soakline/checks"
	"soakline/checks/video"
)

func ExampleAnalyse() {
	// Eight lines of a 625/50 window picture, 20 % hot, at 25 MS/s and 8 bits.
	s := base(std625(), windowPicture)
	s.gain, s.low, s.high, s.lines, s.noise = 1.2, -0.9, 2.1, 8, 0.004
	record := video.Record{Volts: s.volts(), SampleIntervalSeconds: 40e-9, LowVolts: -0.9, HighVolts: 2.1, Coupling: "dc"}

	result, err := video.Analyse(record, video.Options{Limits: video.WorkshopLimits()})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, %.2f V from sync tip to white, sync %.2f V, white %.2f V\n", result.System,
		result.LumaPeakToPeakVolts.Value, result.SyncVolts.Value, result.WhiteVolts.Value)
	for _, f := range checks.Shown(result.Findings) {
		fmt.Println(f.Code, f.State)
	}
	// Output:
	// 625/50, 1.20 V from sync tip to white, sync 0.36 V, white 0.84 V
	// level-high outside
}
