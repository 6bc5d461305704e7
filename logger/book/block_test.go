package book

import (
	"encoding/hex"
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/device"
	"soakline/device/scpi"
)

var update = flag.Bool("update", false, "write golden files anew")

// TestBlockIsSmall: what the information in it allows, 1.9 bytes a reading, and not
// much more.
func TestBlockIsSmall(t *testing.T) {
	readings := newWorkload(1).read(16 * 1900)
	w := newBlockWriter()
	total := 0
	for point := range 16 {
		total += len(w.append(nil, 1, figuresOf(t, readings, point), &clause{}))
	}
	if perReading := float64(total) / float64(len(readings)); perReading > 2.1 {
		t.Errorf("%.2f bytes a reading", perReading)
	}
}

// anyFigure draws what an instrument can send and what can be computed: 17-digit
// floats, minus zero, long digits, values beside their digits, 1970 to 2200.
func anyFigure(t *rapid.T) figure {
	r := device.Reading{
		At:                  fromMicro(rapid.Int64Range(0, 7258118400e6).Draw(t, "at")),
		StandardUncertainty: rapid.SampledFrom([]float64{0, 0.0007, rapid.Float64Range(0, 1e300).Draw(t, "any u")}).Draw(t, "u"),
	}
	switch rapid.IntRange(0, 4).Draw(t, "kind") {
	case 0:
		r.Value = rapid.Float64Range(-1e300, 1e300).Draw(t, "value")
	case 1:
		r.Value = rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e-300, 1e300, 5e-324, 1.0 / 3}).Draw(t, "odd")
	case 2:
		r.Digits, _ = scpi.ParseDecimal(rapid.SampledFrom([]string{"-0.000", "0.1234567890123456789012345"}).Draw(t, "long"))
		r.Value = r.Digits.Float64()
	case 3:
		r.Digits = scpi.NewDecimal(rapid.Int64().Draw(t, "coefficient"), rapid.Int32Range(-300, 280).Draw(t, "exponent"))
		r.Value = r.Digits.Float64()
	default:
		r.Digits = scpi.NewDecimal(50121, -4)
		r.Value = math.Nextafter(r.Digits.Float64(), 6)
	}
	f, err := toFigure(&r)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// TestAnyBlockComesBack writes random blocks, in time order and not.
func TestAnyBlockComesBack(t *testing.T) {
	w := newBlockWriter()
	var reader blockReader
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rapid.Custom(anyFigure), 1, 200).Draw(t, "figures")
		if rapid.Bool().Draw(t, "ordered") {
			want = ordered(want)
		}
		data := appendSum(w.append(nil, 7, want, &clause{}))
		got, err := reader.readBlock(nil, 7, data)
		if err != nil || len(got) != len(want) {
			t.Fatalf("%d figures (%v), want %d", len(got), err, len(want))
		}
		for i := range got {
			if got[i] != want[i] || math.Signbit(got[i].value) != math.Signbit(want[i].value) {
				t.Fatalf("figure %d: got %+v, want %+v", i, got[i], want[i])
			}
		}
		data[rapid.IntRange(0, len(data)-1).Draw(t, "where")] ^= 1
		if _, err := reader.readBlock(nil, 7, data); err == nil {
			t.Fatal("a flipped bit is not noticed")
		}
	})
}

// goldenFigures are those of testdata/block-1.hex.
func goldenFigures(t *testing.T) [][]figure {
	t.Helper()
	readings := newWorkload(1).read(16 * 300)
	return [][]figure{figuresOf(t, readings, 0), figuresOf(t, readings, 3)[:10]}
}

// TestGoldenBlocks: blocks that an earlier program wrote are read as they were.
func TestGoldenBlocks(t *testing.T) {
	const path = "testdata/block-1.hex"
	if *update {
		var text strings.Builder
		for _, figures := range goldenFigures(t) {
			fmt.Fprintf(&text, "%x\n", appendSum(newBlockWriter().append(nil, 1, figures, &clause{})))
		}
		must(t, os.WriteFile(path, []byte(text.String()), 0o644))
	}
	text, err := os.ReadFile(path)
	must(t, err)
	lines := strings.Fields(string(text))
	for i, want := range goldenFigures(t) {
		data, err := hex.DecodeString(lines[i])
		must(t, err)
		got, err := (&blockReader{}).readBlock(nil, 1, data)
		if err != nil || len(got) != len(want) {
			t.Fatalf("block %d: %d figures (%v), want %d", i, len(got), err, len(want))
		}
		for k := range got {
			if got[k] != want[k] {
				t.Fatalf("block %d, figure %d: %+v, want %+v", i, k, got[k], want[k])
			}
		}
	}
}

// FuzzBlock: whatever the bytes, reading them ends, and what is read can be written
// and read again.
func FuzzBlock(f *testing.F) {
	f.Add(newBlockWriter().append(nil, 1, []figure{{at: 5, coefficient: 7}, {at: 6, coefficient: 8}}, &clause{}))
	f.Fuzz(func(t *testing.T, body []byte) {
		figures, err := (&blockReader{}).figures(nil, body)
		if err != nil {
			return
		}
		again, err := (&blockReader{}).figures(nil, newBlockWriter().append(nil, 1, figures, &clause{}))
		if err != nil || len(again) != len(figures) {
			t.Fatalf("%d figures, then %d (%v)", len(figures), len(again), err)
		}
	})
}
