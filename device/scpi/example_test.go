package scpi_test

import (
	"context"
	"fmt"
	"log"
	"strings"
	"time"

	"soakline/device/scpi"
	"soakline/device/scpi/scpitest"
)

// A number keeps the digits that the instrument sent beside its value.
func ExampleParseNumber() {
	for _, text := range []string{"+5.01210000E+00", "9.9E37", "OL"} {
		number, err := scpi.ParseNumber(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(number.Class, number.Value, number.Digits)
	}
	// Output:
	// finite 5.0121 5.01210000
	// positive overflow +Inf 9.9E37
	// "OL": overload shown in words, not a number
}

func ExampleParseQuantity() {
	quantity, err := scpi.ParseQuantity("4.7 kOhm")
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(quantity.Digits.Scaled(quantity.Power), quantity.Unit)
	// Output: 4.7E3 ohm
}

func ExampleSplitResponse() {
	answers, err := scpi.SplitResponse(`5.0121;-113,"Undefined header"`)
	if err != nil {
		log.Fatal(err)
	}
	for _, answer := range answers {
		for _, element := range answer {
			fmt.Printf("byte %d: %s\n", element.Offset, element.Text)
		}
	}
	// Output:
	// byte 0: 5.0121
	// byte 7: -113
	// byte 12: Undefined header
}

func ExampleDecodeSamples() {
	block, err := scpi.ReadBlock(strings.NewReader("#14\x01\x02\xff\xfe\n"), 1000)
	if err != nil {
		log.Fatal(err)
	}
	codes, err := scpi.DecodeSamples(block, scpi.Int16, false)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(codes)
	// Output: [258 -2]
}

func ExampleParseInstrumentError() {
	entry, err := scpi.ParseInstrumentError(`-113,"Undefined header;MEAS:VOLTS?"`)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(entry.Class(), entry.Code, entry.Detail)
	// Output: command -113 MEAS:VOLTS?
}

func ExampleMatches() {
	const pattern = "MEASure[:SCALar]:VOLTage[:DC]?"
	fmt.Println(scpi.Matches(pattern, "meas:volt?"), scpi.Matches(pattern, "measu:volt?"))
	// Output: true false
}

// A conversation begins with Resync, and goes through it again after trouble.
func ExampleConversation() {
	talk, err := scpitest.ParseTalk("a meter", strings.NewReader(`
< 00226800E+00
>
> *CLS
> *IDN?
< Saltmarsh,M6,0,1.04
> MEAS:VOLT:DC?
< +5.0121E+00
`))
	if err != nil {
		log.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	c := scpi.NewConversation(scpitest.Play(talk), scpi.Framing{SendEnding: "lf"})

	isMeter := func(line string) bool { return strings.HasPrefix(line, "Saltmarsh,M6,") }
	if _, err := c.Resync(ctx, "*IDN?", isMeter, 20*time.Millisecond); err != nil {
		log.Fatal(err)
	}
	answer, err := c.Ask(ctx, "MEAS:VOLT:DC?")
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(answer.Text)
	// Output: +5.0121E+00
}
