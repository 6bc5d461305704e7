package book

import (
	"bytes"
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"
)

// format is one way out of the book and in again.
type format struct {
	name string
	out  func(*Book, context.Context, io.Writer, Filter) error
	in   func(*Book, context.Context, io.Reader, func(Imported)) (Imported, error)
}

var formats = []format{
	{"line", func(b *Book, ctx context.Context, w io.Writer, f Filter) error {
		_, err := b.ExportLines(ctx, w, f)
		return err
	}, (*Book).ImportLines},
	{"csv", func(b *Book, ctx context.Context, w io.Writer, f Filter) error {
		_, err := b.ExportCSV(ctx, w, f)
		return err
	}, (*Book).ImportCSV},
}

func (f format) exported(t *testing.T, b *Book) string {
	t.Helper()
	var text bytes.Buffer
	must(t, f.out(b, t.Context(), &text, Filter{}))
	return text.String()
}

// oddBook has readings of all kinds: the golden ones of form 1, and more than one
// chunk of an import.
func oddBook(t *testing.T) *Book {
	t.Helper()
	b := openAt(t, formOne(t), Options{})
	write(t, b, newWorkload(9).read(importChunk)...)
	equal := digits(t, rail, time.Hour, "5.0121")
	write(t, b, equal, equal, digits(t, rail, time.Hour, "5.0122"), equal)
	return b
}

// TestExportComesBack: an export into an empty book and out again gives the same
// bytes, and so it does into the book where it came from: nothing is added.
func TestExportComesBack(t *testing.T) {
	b := oddBook(t)
	info, err := b.Info(t.Context())
	must(t, err)
	for _, f := range formats {
		t.Run(f.name, func(t *testing.T) {
			text := f.exported(t, b)
			fresh := openNew(t)
			var told []Imported
			count, err := f.in(fresh, t.Context(), strings.NewReader(text), func(i Imported) { told = append(told, i) })
			if err != nil || count.Readings != info.Readings || count.Known != 0 || len(told) < 2 || told[len(told)-1] != count {
				t.Fatalf("%+v (%v), told %v", count, err, told)
			}
			if got := f.exported(t, fresh); got != text {
				t.Error("the second export differs from the first")
			}
			for _, into := range []*Book{fresh, b} {
				before := f.exported(t, into)
				count, err := f.in(into, t.Context(), strings.NewReader(text), nil)
				if err != nil || count.Readings != 0 || count.Known != info.Readings || count.Others != 0 {
					t.Errorf("the second time: %+v (%v)", count, err)
				}
				if f.exported(t, into) != before {
					t.Error("the second import changed something")
				}
			}
		})
	}
}

// TestImportGoesOn: an import that was cut off is begun again from the start.
func TestImportGoesOn(t *testing.T) {
	b := oddBook(t)
	for _, f := range formats {
		text := f.exported(t, b)
		fresh := openNew(t)
		cut := strings.LastIndex(text[:len(text)*9/10], "\n") + 1
		first, err := f.in(fresh, t.Context(), strings.NewReader(text[:cut]+"what is this\n"), nil)
		if !errors.Is(err, ErrInvalid) || first.Readings == 0 {
			t.Fatalf("%s: %+v (%v)", f.name, first, err)
		}
		second, err := f.in(fresh, t.Context(), strings.NewReader(text), nil)
		if err != nil || second.Known != first.Readings {
			t.Errorf("%s: %+v, then %+v (%v)", f.name, first, second, err)
		}
		if f.exported(t, fresh) != text {
			t.Errorf("%s: the export differs", f.name)
		}
	}
}

func TestImportStopsWhenAsked(t *testing.T) {
	text := formats[1].exported(t, oddBook(t))
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	fresh := openNew(t)
	count, err := fresh.ImportCSV(ctx, strings.NewReader(text), func(Imported) { cancel() })
	if !errors.Is(err, context.Canceled) || count.Readings < importChunk || count.Readings > importChunk+10 {
		t.Errorf("%+v (%v)", count, err)
	}
}

// TestImportTakesRatiosWithoutASymbol: exports of before gave ratios of volts none.
func TestImportTakesRatiosWithoutASymbol(t *testing.T) {
	const rows = "time,bench,console,unit,test_point,instrument,measure,value,unit_symbol,u\n" +
		"2026-03-14T09:26:53.589793Z,,,,,,crest-factor,1.41,,\n2026-03-14T09:26:54.589793Z,,,,,,crest-factor,1.42,V/V,\n"
	if count, err := openNew(t).ImportCSV(t.Context(), strings.NewReader(rows), nil); err != nil || count.Readings != 2 {
		t.Errorf("%+v (%v)", count, err)
	}
}

// TestImportRefuses: each mistake is said with its line; nothing of it is kept.
func TestImportRefuses(t *testing.T) {
	const header = "time,bench,console,unit,test_point,instrument,measure,value,unit_symbol,u\n"
	const at = "2026-03-14T09:26:53.589793Z"
	for _, test := range []struct{ format, text, want string }{
		{"csv", "a,b\n", "record on line 1: wrong number of fields"},
		{"csv", strings.ToUpper(header), "line 1: the header is"},
		{"csv", header + "yesterday,,,,,,dc-voltage,5,V,\n", `line 2: time "yesterday"`},
		{"csv", header + at + ",,,,,,dc-voltage,five,V,\n", `line 2: value "five"`},
		{"csv", header + at + ",,,,,,dc-voltage,1e999,V,\n", `line 2: value "1e999"`},
		{"csv", header + at + ",,,,,,dc-voltage,9E999,V,\n", "line 2: cannot be kept"},
		{"csv", header + at + ",,,,,,dc-voltage,5,A,\n", `line 2: unit_symbol "A"`},
		{"csv", header + at + ",,,,,,dc-voltage,5,V,-1\n", "line 2: cannot be kept"},
		{"csv", header + at + ",,,,,,dc-voltage,5,V,x\n", `line 2: u "x"`},
		{"csv", header + at + `,",,,,,dc-voltage,5,V,` + "\n", "line 2"},
		{"line", "reading volts=5 1\n", "entry 1: a reading needs the tag measure"},
		{"line", "reading,measure=dc-voltage amperes=5 1\n", `entry 1: field "amperes"`},
		{"line", "reading,measure=dc-voltage volts=5i 1\n", "not a float"},
		{"line", "reading,measure=dc-voltage volts=5\n", "entry 1: a reading needs a time"},
		{"line", "verdict soak=1i 1\nreading,measure=dc-voltage,colour=red volts=5 1\n", `entry 2: tag "colour"`},
		{"line", "reading,measure=dc-voltage volts= 1\n", "entry 1"},
		{"line", "reading\n", "entry 1"},
		{"line", "verdict soak=1i 1\n\nother x=1 1\n", `entry 2: "other" is no reading`},
	} {
		f := formats[0]
		if test.format == "csv" {
			f = formats[1]
		}
		b := openNew(t)
		_, err := f.in(b, t.Context(), strings.NewReader(test.text), nil)
		checkRefusal(t, err, ErrInvalid, b.Path(), test.want)
		if n, err := b.Count(t.Context(), Filter{}); n != 0 || err != nil {
			t.Errorf("%q: %d readings were kept (%v)", test.text, n, err)
		}
	}
	b := openNew(t)
	for _, f := range formats {
		if count, err := f.in(b, t.Context(), strings.NewReader(""), nil); err != nil || count != (Imported{}) {
			t.Errorf("%s of nothing: %+v (%v)", f.name, count, err)
		}
		if _, err := f.in(b, t.Context(), io.MultiReader(strings.NewReader(header[:20]), brokenReader{}), nil); err == nil {
			t.Errorf("%s: a broken reader is taken for the end", f.name)
		}
	}
}

// brokenReader is a disk that fails.
type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, errors.New("input/output error") }

// FuzzImport: whatever the text holds, what is kept comes back.
func FuzzImport(f *testing.F) {
	f.Add("time,bench,console,unit,test_point,instrument,measure,value,unit_symbol,u\n2026-03-14T09:26:53.589793Z,,,,,,dc-voltage,5,V,\n")
	f.Add("reading,measure=dc-voltage volts=5 1\nverdict soak=1i 1\n")
	f.Fuzz(func(t *testing.T, text string) {
		for _, from := range []source{newCSVSource(strings.NewReader(text)), newLineSource(strings.NewReader(text))} {
			for {
				one, err := from.next()
				if err != nil {
					break
				}
				if l := one.other; l != nil {
					again, err := newLineSource(strings.NewReader(l.text)).next()
					if err != nil || *again.other != *l {
						t.Fatalf("%+v, then %+v (%v)", l, again.other, err)
					}
				} else if err := one.reading.check(); err != nil {
					t.Fatalf("%+v: %v", one.reading, err)
				}
			}
		}
	})
}
