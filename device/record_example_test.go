package device_test

import (
	"fmt"
	"strings"

	"soakline/device"
)

// A record as a scope of this invented maker saves it: settings, titles with
// units, semicolons and decimal commas.
func ExampleReadRecord() {
	file := "Maker;Saltmarsh\nCoupling;DC\nTime (us);Channel 1 (mV)\n0,00;-300,0\n0,04;-298,5\n0,08;12,0\n"
	capture, err := device.ReadRecord(strings.NewReader(file), "line.csv", device.RecordOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d samples every %.0f ns, %s coupled, the first %.4f V\n",
		len(capture.Volts), capture.SampleIntervalSeconds*1e9, capture.Coupling, capture.Volts[0])
	// Output: 3 samples every 40 ns, dc coupled, the first -0.3000 V
}
