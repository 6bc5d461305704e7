package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// drawings are one plot of each kind.
func drawings() map[string]drawing {
	return map[string]drawing{"line": trialPlot(), "soak": nightSoak()}
}

func svgOf(t testing.TB, d drawing) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := writeSVG(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// svgContent parses a document and returns the names of its elements, each once
// and sorted, and its texts in order, the title first.
func svgContent(t testing.TB, document []byte) (elements, texts []string) {
	t.Helper()
	decoder := xml.NewDecoder(bytes.NewReader(document))
	inside := ""
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			slices.Sort(elements)
			return slices.Compact(elements), texts
		}
		if err != nil {
			t.Fatalf("no XML: %v in %.2000s", err, document)
		}
		switch token := token.(type) {
		case xml.StartElement:
			inside = token.Name.Local
			elements = append(elements, inside)
			for _, attribute := range token.Attr {
				if strings.HasPrefix(strings.ToLower(attribute.Name.Local), "on") {
					t.Fatalf("attribute %s in %s", attribute.Name.Local, inside)
				}
			}
		case xml.EndElement:
			inside = ""
		case xml.CharData:
			if inside == "text" || inside == "title" {
				texts = append(texts, string(token))
			}
		}
	}
}

func TestSameInputGivesSameBytes(t *testing.T) {
	for name, d := range drawings() {
		if !bytes.Equal(svgOf(t, d), svgOf(t, d)) {
			t.Errorf("%s: two SVG documents differ", name)
		}
		var first, second bytes.Buffer
		if err := errors.Join(writePNG(&first, d), writePNG(&second, d)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first.Bytes(), second.Bytes()) {
			t.Errorf("%s: two PNG images differ", name)
		}
	}
}

func TestSVGTexts(t *testing.T) {
	want := map[string][]string{
		"line": {
			"B8-0147 composite: trial of the series resistor: 68 ohm, 75 ohm, 82 ohm, baseline as received, " +
				"white 0.700 V, black 0.001 V, blanking 0.000 V, sync tip -0.300 V ± 0.003",
			"B8-0147 composite: trial of the series resistor",
			"baseline as received", "68 ohm", "75 ohm", "82 ohm",
			"time in µs", "0", "10", "20", "30", "40", "50", "60",
			"-0.2 V", "0.0 V", "0.2 V", "0.4 V", "0.6 V", "0.8 V",
			"sync tip -0.300 V ± 0.003", "blanking 0.000 V", "black 0.001 V", "white 0.700 V",
		},
		"soak": {
			"B8-0152 rail-5v over the soak: readings from 4.690 V to 5.230 V, gaps: 1, excursions: 2",
			"B8-0152 rail-5v over the soak",
			"readings, lowest to highest", "guard band", "no readings", "outside (1)", "borderline (1)",
			"24 Nov 12:00", "15:00", "18:00", "21:00", "25 Nov 00:00", "03:00", "06:00", "09:00",
			"4.7 V", "4.8 V", "4.9 V", "5.0 V", "5.1 V", "5.2 V",
			"low limit 4.750 V", "high limit 5.250 V", "4.690 V", "5.231 V",
		},
	}
	for name, d := range drawings() {
		elements, texts := svgContent(t, svgOf(t, d))
		if diff := cmp.Diff([]string{"g", "path", "svg", "text", "title"}, elements); diff != "" {
			t.Errorf("%s: elements %s", name, diff)
		}
		if diff := cmp.Diff(want[name], texts); diff != "" {
			t.Errorf("%s: texts %s", name, diff)
		}
	}
}

// hostile are names that must end up as text, whatever is in them.
var hostile = []string{
	`<img src=x onerror=alert(1)>`, `</text></svg><script>alert(1)</script>`, `"onload="alert(1)`,
	"&amp;&lt;&#60;", "]]>", "\x00\x1b[31m\x07", "a\nb\r\tc", "\xff\xfe", "\u202eevil", "style=\"font-family:Liberation Sans;",
	strings.Repeat("very long ", 200), "",
}

func TestNamesStayText(t *testing.T) {
	for _, name := range hostile {
		trace := Trace{Label: name, IntervalSeconds: 1, Volts: []float64{0, 1}}
		line := LinePlot{
			Title: name, Traces: []Trace{trace, trace}, Baseline: &trace,
			Rulers: []Ruler{{Label: name, Volts: 0.5}, {Volts: 0.7, Text: name}},
		}
		soak := nightSoak()
		soak.Envelope = soak.Envelope[:3]
		soak.Title, soak.Unit = name, name
		for _, d := range []drawing{line, soak} {
			elements, texts := svgContent(t, svgOf(t, d))
			if len(elements) != 5 {
				t.Errorf("%q: elements %v", name, elements)
			}
			title := strings.Join(texts, "\n")
			if shown := cleanLabel(name); len(shown) < 60 && !strings.Contains(title, shown) {
				t.Errorf("%q is not shown as %q", name, shown)
			}
		}
	}
}

// A name that no font has letters for must not end the drawing of an image.
func TestOddNamesInAnImage(t *testing.T) {
	p := LinePlot{Title: strings.Join(hostile, " "), Traces: []Trace{{IntervalSeconds: 1, Volts: []float64{0, 1}}}}
	if err := p.PNG(io.Discard); err != nil {
		t.Error(err)
	}
}

// FuzzNamesStayText holds for every name: the document is XML, has our elements
// only, and no attribute that runs anything.
func FuzzNamesStayText(f *testing.F) {
	for _, name := range hostile {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		p := LinePlot{
			Title: name, Traces: []Trace{{Label: name, IntervalSeconds: 1, Volts: []float64{0, 1}}},
			Rulers: []Ruler{{Label: name, Volts: 0.5, Text: name}},
		}
		if elements, _ := svgContent(t, svgOf(t, p)); len(elements) != 5 {
			t.Errorf("%q: elements %v", name, elements)
		}
	})
}

// failingWriter is a disk that is full.
type failingWriter struct{}

var errFull = errors.New("no space left")

func (failingWriter) Write([]byte) (int, error) { return 0, errFull }

func TestWritingPassesErrorsOn(t *testing.T) {
	for name, d := range drawings() {
		if err := writeSVG(failingWriter{}, d); !errors.Is(err, errFull) {
			t.Errorf("%s: SVG: %v", name, err)
		}
		if err := writePNG(failingWriter{}, d); !errors.Is(err, errFull) {
			t.Errorf("%s: PNG: %v", name, err)
		}
	}
}
