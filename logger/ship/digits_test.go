package ship

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// eachMillisecond puts values into a book, so many in one series, and ships them.
func eachMillisecond(t *testing.T, e *engine, b *book.Book, inSeries int, readings []device.Reading) {
	t.Helper()
	writer := book.NewWriter(b, book.WriterOptions{CommitEvery: time.Hour})
	stop := running(t, writer.Run)
	begin := time.Now().Add(-time.Hour).Truncate(time.Millisecond)
	for i, r := range readings {
		tag := book.Tag{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: checks.TestPointName(fmt.Sprintf("point %d", i/inSeries)),
			Instrument: "meter", Measure: device.DCVoltage}
		r.Measure, r.At = tag.Measure, begin.Add(time.Duration(i)*time.Millisecond)
		must(t, writer.Append(book.TaggedReading{Tag: tag, Reading: r}))
	}
	stop()
	shipper := quick(New(b, []Target{target(e.write)}, quiet()))
	stop = running(t, shipper.Run)
	settled(t, shipper)
	stop()
}

// TestDigitsOfInstruments: what instruments send, six and seven digits of either sign
// from microvolts to kilovolts in one series, is in every engine to the last bit.
func TestDigitsOfInstruments(t *testing.T) {
	chance := rand.New(rand.NewPCG(3, 14))
	var readings []device.Reading
	for i := range 6000 {
		digits := int64(math.Pow10(6 + i%2)) // so many of them
		d := scpi.NewDecimal((digits/10+chance.Int64N(digits*9/10))*(1-2*int64(i%3/2)), int32(-12+i%10))
		readings = append(readings, device.Reading{Value: d.Float64(), Digits: d})
	}
	readings = append(readings, device.Reading{Digits: scpi.NewDecimal(0, -6)})
	for name, begin := range engines {
		t.Run(name, func(t *testing.T) {
			e, b := begin(t), openBook(t)
			eachMillisecond(t, e, b, 10_000, readings)
			if n := compare(t, b, e); n != len(readings) {
				t.Errorf("%d readings were compared, want %d", n, len(readings))
			}
		})
	}
}

// roundsWithin is by how much of a value an engine rounds what is calculated here and
// has more digits than any instrument sends. The first keeps the 64 bits. The other
// keeps decimal numbers: up to 11 digits were exact in every case that was tried, from
// the twelfth on 1e-12 of the value was cut off at most (found by trial of Debian's
// version; no source).
var roundsWithin = map[string]float64{"influxd": 0, "victoria-metrics": 1.1e-12}

// TestDigitsOfCalculated: floats with up to 17 digits, which is what gives a float64
// back (IEEE 754-2019, 5.12.2, clause from memory), are in an engine as the table says,
// those of up to 11 digits in both to the last bit.
func TestDigitsOfCalculated(t *testing.T) {
	const each, least, most = 200, 6, 17
	chance := rand.New(rand.NewPCG(2, 7))
	var readings []device.Reading
	digits := map[float64]int{}
	for decade := -6; decade < 4; decade++ {
		for d := least; d <= most; d++ {
			for range each {
				text := strconv.FormatFloat((0.1+0.9*chance.Float64())*math.Pow10(decade), 'e', d-1, 64)
				value, err := strconv.ParseFloat(text, 64)
				must(t, err)
				digits[value] = d
				readings = append(readings, device.Reading{Value: value})
			}
		}
	}
	for name, begin := range engines {
		t.Run(name, func(t *testing.T) {
			e, b := begin(t), openBook(t)
			eachMillisecond(t, e, b, each*(most-least+1), readings)
			got, rounded := e.points(t, e), 0
			for series, want := range bookPoints(t, b) {
				for at, value := range want {
					there, err := strconv.ParseFloat(string(got[series][at]), 64)
					must(t, err)
					if there == value {
						continue
					}
					rounded++
					if off := math.Abs(there-value) / value; off >= roundsWithin[name] || digits[value] < 12 {
						t.Errorf("%v of %d digits came back as %v", value, digits[value], there)
					}
				}
			}
			t.Logf("%d of %d were rounded", rounded, len(readings))
		})
	}
}
