package book_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// A reading goes in through a Writer and comes out with the digits that the
// instrument sent.
func Example() {
	ctx := context.Background()
	folder, err := os.MkdirTemp("", "book")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	kept, err := book.Open(ctx, filepath.Join(folder, "bench.book"), book.Options{Program: "soakline example"})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer kept.Close()

	writer := book.NewWriter(kept, book.WriterOptions{CommitEvery: time.Second})
	running, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- writer.Run(running) }()

	digits := scpi.NewDecimal(50120, -4)
	err = writer.Append(book.TaggedReading{
		Tag: book.Tag{
			Bench: "quay", Console: "Brambling 8", Unit: "B8-0147", TestPoint: "rail-5v", Instrument: "meter", Measure: device.DCVoltage,
		},
		Reading: device.Reading{
			Measure: device.DCVoltage, Value: digits.Float64(), Digits: digits, StandardUncertainty: 0.0007,
			At: time.Date(2026, 3, 14, 9, 26, 53, 0, time.UTC),
		},
	})
	if err != nil {
		fmt.Println(err)
	}
	stop()
	if err := <-ended; err != nil { // the last commit
		fmt.Println(err)
	}

	for r, err := range kept.Readings(ctx, book.Filter{Unit: "B8-0147"}) {
		if err != nil {
			fmt.Println(err)
			break
		}
		fmt.Println(r.At.Format(time.TimeOnly), r.Tag.TestPoint, r.Digits, r.Tag.Measure.Unit().Symbol)
	}
	// Output: 09:26:53 rail-5v 5.0120 V
}
