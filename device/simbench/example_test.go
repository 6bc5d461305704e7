package simbench_test

import (
	"bufio"
	"context"
	"fmt"
	"log"
	"net"
	"strings"

	"soakline/device/simbench"
)

// The demonstration's meter, asked over the loopback interface, and what its
// reader sees of a fault.
func Example() {
	config := simbench.DemoConfig("")
	for i := range config.Instruments {
		config.Instruments[i].Port = "127.0.0.1:0"
	}
	bench, err := simbench.New(config)
	if err != nil {
		log.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error)
	go func() { ended <- bench.Run(ctx) }()
	<-bench.Ready()

	line, err := net.Dial("tcp", strings.TrimPrefix(bench.Ports()["meter"], "tcp://"))
	if err != nil {
		log.Fatal(err)
	}
	answers := bufio.NewScanner(line)
	ask := func(query string) string {
		fmt.Fprintln(line, query)
		answers.Scan()
		return answers.Text()
	}
	fmt.Println(ask("*IDN?"))
	if err := bench.Fault("meter", "overflow", "1", "nan"); err != nil {
		log.Fatal(err)
	}
	fmt.Println(ask("MEASure:VOLTage:DC?"))
	fmt.Println(ask("MEASure:VOLTage:DC?")[:4], "V and more digits")
	cancel()
	if err := <-ended; err != nil {
		log.Fatal(err)
	}
	// Output:
	// Saltmarsh,M6,S60017,1.4
	// 9.91E37
	// +5.0 V and more digits
}
