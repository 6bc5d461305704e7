package simbench

import (
	"encoding/csv"
	"math"
	"os"
	"strings"
	"testing"
)

// visible returns line 100 of the frame and its system, at 1 ns.
func visible(c CompositeConfig) (sampled, videoSystem) {
	s := c.system()
	return sample(c, 100*s.line-2e-6, s.line+10e-6, 1e-9), s
}

func TestLineTimings(t *testing.T) {
	type window struct{ low, high float64 } // us
	for _, row := range []struct {
		system, source                                 string
		lines                                          int
		period, sync, burstStart, burstLength, picture window
		porch, syncRise                                window
		tip                                            float64
	}{
		{
			"525/60", "V-20, V-23, V-24, V-26, V-28 to V-30: SMPTE 170M, BT.470-6", 525,
			window{63.5554, 63.5557}, window{4.6, 4.8}, window{5.2, 5.4}, window{2.25, 2.79},
			window{9.3, 9.5}, window{1.4, 1.6}, window{0.12, 0.16}, -40.0 / 140,
		},
		{
			"625/50", "V-20, V-23, V-24, V-26, V-28 to V-30: BT.470-6 table 1 (B/G)", 625,
			window{63.9999, 64.0001}, window{4.5, 4.9}, window{5.5, 5.7}, window{2.03, 2.48},
			window{10.4, 10.6}, window{1.2, 1.8}, window{0.1, 0.3}, -0.3,
		},
	} {
		line, s := visible(clean(row.system, row.lines, "white"))
		pulses := line.pulsesBelow(row.tip / 2)
		if len(pulses) != 2 {
			t.Fatalf("%s: %d sync pulses in a line and a bit", row.system, len(pulses))
		}
		edge := pulses[0].begin
		whole := line.part(edge+8e-6, edge+s.line-0.5e-6).pulsesBelow(0.35)
		white := line.part(edge+5e-6, edge+20e-6)
		begin := white.from + rising(white, 0.35)
		burst := line.part(edge+4.9e-6, edge+9e-6)
		from, to := envelope(burst, s.subcarrierHz)
		for _, figure := range []struct {
			name    string
			seconds float64
			window
		}{
			{"line period", pulses[1].begin - edge, row.period},
			{"sync width", pulses[0].end - edge, row.sync},
			{"sync edge to picture", begin - edge, row.picture},
			{"sync edge to burst", from - edge, row.burstStart},
			{"burst length", to - from, row.burstLength},
			{"front porch", pulses[1].begin - falling(line, edge+20e-6, 0.35), row.porch},
			{"sync rise", riseTime(line.part(edge+3e-6, edge+5.2e-6), row.tip, 0), row.syncRise},
		} {
			if us := figure.seconds * 1e6; us < figure.low || us > figure.high {
				t.Errorf("%s %s is %.4f us, want %g to %g (%s)",
					row.system, figure.name, us, figure.low, figure.high, row.source)
			}
		}
		if len(whole) != 0 {
			t.Errorf("%s: a white line falls to black %d times", row.system, len(whole))
		}
	}
}

// rising is when the record first passes a level upwards, s after its begin.
func rising(s sampled, level float64) float64 {
	for i := 1; i < len(s.v); i++ {
		if s.v[i-1] < level && s.v[i] >= level {
			return float64(i-1)*s.dt + (level-s.v[i-1])/(s.v[i]-s.v[i-1])*s.dt
		}
	}
	return math.NaN()
}

// falling is when the record first passes a level downwards after a time.
func falling(s sampled, after, level float64) float64 {
	p := s.part(after, s.from+float64(len(s.v)-1)*s.dt)
	for i := 1; i < len(p.v); i++ {
		if p.v[i-1] >= level && p.v[i] < level {
			return p.from + float64(i)*p.dt
		}
	}
	return math.NaN()
}

// riseTime is from 10 to 90 % between two levels.
func riseTime(s sampled, low, high float64) float64 {
	return rising(s, low+0.9*(high-low)) - rising(s, low+0.1*(high-low))
}

// envelope is where a burst is above half its amplitude, found by correlating
// over one cycle at a time.
func envelope(s sampled, hz float64) (from, to float64) {
	const stride = 10 // samples from one look to the next
	one := int(1 / hz / s.dt)
	var peaks []float64
	most := 0.0
	for i := 0; i+one < len(s.v); i += stride {
		p, _ := sampled{v: s.v[i : i+one], from: s.from + float64(i)*s.dt, dt: s.dt}.correlate(hz)
		peaks, most = append(peaks, p), max(most, p)
	}
	from, to = math.NaN(), math.NaN()
	for i, p := range peaks {
		if p < most/2 {
			continue
		}
		to = s.from + (float64(i*stride)+float64(one)/2)*s.dt
		if math.IsNaN(from) {
			from = to
		}
	}
	return from, to
}

func TestBurst(t *testing.T) {
	for _, row := range []struct {
		system, source string
		lines          int
		peakToPeak, hz float64
	}{
		{"525/60", "V-05, V-40: SMPTE 170M, 40 IRE, 315/88 MHz", 262, 0.2857143, 315e6 / 88},
		{"625/50", "V-05, V-40: BT.470-6, 300 mV, 4.43361875 MHz", 312, 0.300, 4433618.75},
	} {
		line, s := visible(clean(row.system, row.lines, "black"))
		edge := line.pulsesBelow(-0.15)[0].begin
		burst := line.part(edge+s.burstStart, edge+s.burstEnd()).cycles(row.hz, 6)
		peak, _ := burst.correlate(row.hz)
		near(t, row.system+" burst ("+row.source+")", 2*peak, row.peakToPeak, 1e-3)
		n := len(burst.v) / 2
		_, first := sampled{burst.v[:n], burst.from, burst.dt}.cycles(row.hz, 2).correlate(row.hz)
		_, last := sampled{burst.v[n:], burst.from + float64(n)*burst.dt, burst.dt}.cycles(row.hz, 2).correlate(row.hz)
		near(t, row.system+" phase across the burst", math.Remainder(last-first, 2*math.Pi), 0, 0.02)
	}
}

func TestPictureLevels(t *testing.T) {
	file, err := os.Open("testdata/video_levels.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = file.Close() }()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	rows, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for i, row := range rows[1:] {
		if row[1] == "levels" {
			continue
		}
		c := clean("625/50", 312, "staircase")
		if row[0] == "525" {
			c = clean("525/60", 262, "staircase")
		}
		patches := 6
		if strings.HasPrefix(row[1], "colour bars") {
			c.Picture, patches = "bars-75", 8
		}
		c.NoSetup = strings.Contains(row[1], "no setup")
		step := 0
		for rows[i-step][1] == row[1] && rows[i-step][0] == row[0] {
			step++
		}
		checkPatch(t, c, row, step, patches)
		checked++
	}
	if checked != 6*3+8*2 {
		t.Errorf("checked %d levels", checked)
	}
}

func checkPatch(t *testing.T, c CompositeConfig, row []string, step, patches int) {
	t.Helper()
	line, s := visible(c)
	edge := line.pulsesBelow(-0.15)[0].begin
	width := (s.pictureEnd() - s.blankingEnd) / float64(patches)
	at := edge + s.blankingEnd + float64(step)*width
	middle := line.part(at+0.6e-6, at+width-0.6e-6).cycles(s.subcarrierHz, 12)
	near(t, strings.Join(row[:3], " ")+" mV", middle.mean()*1e3, figure(t, row[4]), 0.5)
	if row[5] != "" {
		peak, _ := middle.correlate(s.subcarrierHz)
		near(t, strings.Join(row[:3], " ")+" chroma mV p-p", 2e3*peak, figure(t, row[5]), 1)
	}
}

func TestLevelsOfAWholeLine(t *testing.T) {
	for _, row := range []struct {
		c         CompositeConfig
		low, high float64
		source    string
	}{
		{clean("625/50", 312, "bars-100"), -0.300, 0.933, "V-09: 133 % of 700 mV, BT.470-6 table 1"},
		{clean("625/50", 312, "white"), -0.300, 0.700, "V-01 to V-03, BT.470-6"},
		{clean("525/60", 262, "white"), -0.285714, 0.714286, "V-01 to V-03, SMPTE 170M"},
		{clean("525/60", 262, "bars-75"), -0.285714, 0.714286, "75 % bars with set-up reach 100 IRE, SMPTE 170M"},
	} {
		line, s := visible(row.c)
		edge := line.pulsesBelow(-0.15)[0].begin
		low, high := line.part(edge, edge+s.line).extremes()
		near(t, row.c.System+" "+row.c.Picture+" lowest ("+row.source+")", low, row.low, 2e-3)
		near(t, row.c.System+" "+row.c.Picture+" highest ("+row.source+")", high, row.high, 3e-3)
	}
	line, _ := visible(clean("625/50", 312, "bars-100"))
	picture := line.part(line.from+15e-6, line.from+60e-6)
	low, _ := picture.extremes()
	near(t, "lowest of 100 % bars (D: 625/50, -233 mV)", low, -0.233, 3e-3)
	for picture, want := range map[string]float64{"white": 0.5462, "black": -0.0220} {
		c := clean("625/50", 312, picture)
		line := sample(c, 100*64e-6, 64e-6, 1e-9)
		near(t, "mean of a "+picture+" line (V-83)", line.mean(), want, 2e-3)
	}
}

func TestDarkAndStripes(t *testing.T) {
	dark, _ := visible(clean("625/50", 312, "dark"))
	if _, high := dark.part(dark.from+12e-6, dark.from+60e-6).extremes(); high > 0.1 {
		t.Errorf("a dark picture reaches %g V", high)
	}
	c := clean("625/50", 312, "stripes")
	c.StripeS = 1e-6
	stripes, _ := visible(c)
	n := len(stripes.part(stripes.from+12e-6, stripes.from+62e-6).pulsesBelow(0.35))
	if n < 23 || n > 26 {
		t.Errorf("%d stripes of 1 us black, 1 us white in 50 us", n)
	}
}
