package simbench

import "testing"

// kinds counts the pulses of a record by their width.
func kinds(pulses []lowPulse) (line, equalising, broad, long int) {
	for _, p := range pulses {
		switch us := (p.end - p.begin) * 1e6; {
		case us < 3:
			equalising++
		case us < 6:
			line++
		case us < 29:
			broad++
		default:
			long++
		}
	}
	return line, equalising, broad, long
}

func TestFieldStructure(t *testing.T) {
	for _, row := range []struct {
		system                        string
		lines                         int
		vertical                      string
		line, equalising, broad, long int
		source                        string
	}{
		{"625/50", 625, "full", 610, 20, 10, 0, "V-50, V-51: BT.470-6, 5/5/5 a field, 7.5 lines"},
		{"525/60", 525, "full", 507, 24, 12, 0, "V-50, V-51: SMPTE 170M, 6/6/6 a field, 9 lines"},
		{"625/50", 312, "full", 305, 10, 5, 0, "5/5/5 without interlace, value computed"},
		{"525/60", 262, "serrated", 259, 0, 6, 0, "V-51, common practice without equalising"},
		{"625/50", 312, "plain", 309, 0, 0, 1, "common practice: one long pulse"},
	} {
		c := clean(row.system, row.lines, "black")
		c.VerticalPulses = row.vertical
		s := c.system()
		// The frame begins inside a pulse's edge: look from one microsecond before.
		frame := sample(c, -1e-6, float64(row.lines)*s.line, 100e-9)
		line, equalising, broad, long := kinds(frame.pulsesBelow(-0.2))
		if line != row.line || equalising != row.equalising || broad != row.broad || long != row.long {
			t.Errorf("%s %d %s: %d line, %d equalising, %d broad, %d long pulses; want %d, %d, %d, %d (%s)",
				row.system, row.lines, row.vertical, line, equalising, broad, long,
				row.line, row.equalising, row.broad, row.long, row.source)
		}
	}
}

func TestVerticalPulseWidths(t *testing.T) {
	for _, row := range []struct {
		system            string
		lines             int
		equalising, broad float64 // us
		source            string
	}{
		{"625/50", 625, 2.35, 27.3, "V-52 to V-54: BT.470-6"},
		{"525/60", 525, 2.3, 27.078, "V-52 to V-54: SMPTE 170M; broad 31.778 - 4.7"},
	} {
		c := clean(row.system, row.lines, "black")
		s := c.system()
		pulses := sample(c, -1e-6, 8*s.line, 1e-9).pulsesBelow(-0.145)
		near(t, row.system+" broad pulse us ("+row.source+")", (pulses[0].end-pulses[0].begin)*1e6, row.broad, 0.01)
		near(t, row.system+" serration us", (pulses[1].begin-pulses[0].end)*1e6, 4.7, 0.02)
		eq := pulses[s.pulses]
		near(t, row.system+" equalising pulse us", (eq.end-eq.begin)*1e6, row.equalising, 0.01)
		near(t, row.system+" half line us", (pulses[1].begin-pulses[0].begin)*1e6, s.line/2*1e6, 0.001)
	}
}

func TestInterlaceOffset(t *testing.T) {
	// V-50: the second field's broad pulses come 312.5 or 262.5 lines after the
	// first one's (BT.470-6, SMPTE 170M).
	for system, lines := range map[string]int{"625/50": 625, "525/60": 525} {
		c := clean(system, lines, "black")
		s := c.system()
		var begins []float64
		for _, p := range sample(c, -1e-6, float64(lines)*s.line, 100e-9).pulsesBelow(-0.2) {
			if p.end-p.begin > 20e-6 {
				begins = append(begins, p.begin)
			}
		}
		near(t, system+" field in lines", (begins[s.pulses]-begins[0])/s.line, float64(lines)/2, 0.001)
	}
}

func TestDeparturesOfOldConsoles(t *testing.T) {
	for _, row := range []struct {
		source           string
		system           string
		lines            int
		lineUS, fieldsHz float64
	}{
		{"V-60", "525/60", 262, 63.5556, 60.0544}, {"V-61", "525/60", 263, 63.5556, 59.8261},
		{"V-62", "525/60", 262, 63.6952, 59.9228}, {"V-63", "525/60", 262, 63.5090, 60.0985},
		{"V-64", "525/60", 262, 63.4159, 60.1867}, {"V-65", "625/50", 312, 64, 50.0801},
		{"V-66", "625/50", 313, 64, 49.9201}, {"V-67", "625/50", 312, 64.0560, 50.0363},
		{"V-68", "625/50", 312, 63.8305, 50.2131},
	} {
		c := clean(row.system, row.lines, "black")
		c.VerticalPulses, c.LinePeriodS = "serrated", row.lineUS*1e-6
		record := sample(c, 5e-3, 42e-3, 300e-9)
		var fields []float64
		var before lowPulse
		for _, p := range record.pulsesBelow(-0.2) {
			if p.end-p.begin > 20e-6 && before.end-before.begin < 20e-6 {
				fields = append(fields, p.begin)
			}
			before = p
		}
		near(t, row.source+" (common practice) field Hz", 1/(fields[1]-fields[0]), row.fieldsHz, 0.001)
	}
}
