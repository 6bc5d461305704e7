package parts_test

import (
	"fmt"

	"soakline/checks/parts"
)

// A hot output is softened with a capacitor across the 75 ohm load.
func ExampleShuntCapacitor_Calculate() {
	farad, err := parts.ParseQuantity("820p", parts.Farad)
	if err != nil {
		fmt.Println(err)
		return
	}
	result, err := parts.ShuntCapacitor{SourceOhm: 75, LoadOhm: 75, CapacitanceF: farad}.Calculate()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, row := range result.Rows() {
		fmt.Printf("%-22s %s\n", row.Label, row.Figure())
	}
	// Output:
	// capacitor              820.0 pF
	// resistance at the node 37.50 ohm
	// corner (-3 dB)         5.176 MHz
	// rise time of a step    67.56 ns
	// rise time of the edge  67.56 ns
	// 525/60 subcarrier      -1.70 dB
	// 625/50 subcarrier      -2.39 dB
}

func ExampleReservoirTarget_Choose() {
	target := parts.ReservoirTarget{
		Reservoir: parts.Reservoir{PeakV: 12, LoadA: 0.45, MainsHz: 50},
		RippleV:   0.5, Series: parts.E6,
	}
	choice, err := target.Choose()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("rule of thumb", parts.Figure(choice.SimpleF, parts.Farad, 3))
	fmt.Println("exact        ", parts.Figure(choice.ExactF, parts.Farad, 3))
	fmt.Println("fit          ", parts.Code(choice.Fitted.CapacitanceF, parts.Farad))
	// Output:
	// rule of thumb 9000 µF
	// exact         8150 µF
	// fit           10m
}
