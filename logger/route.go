package logger

import (
	"slices"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// input names one input of one instrument.
type input struct{ instrument, channel string }

// route leads from an input to one test point of one soak.
type route struct {
	soak  *liveSoak
	point checks.TestPoint
	// tag is complete but for the measure.
	tag book.Tag
	// asked are the measures that the instrument is asked for; captured those
	// that are taken from a scope record of the input.
	asked, captured []device.Measure
	accuracy        device.Accuracy
	// recordAccuracy is the instrument's clause for volts from peak to peak.
	recordAccuracy device.Accuracy
}

// measures are those that a reading of m (or, if empty, a capture) would give.
func (r *route) measures(m device.Measure) []device.Measure {
	if m == "" {
		return r.captured
	}
	return []device.Measure{m}
}

// routes are all routes of the running soaks. They are not changed once made.
type routes struct {
	byInput map[input][]*route
	// wants are what each instrument is to read for them.
	wants map[string][]device.Want
}

// of returns the routes that a reading of m on an input serves; an empty m stands
// for a capture.
func (r *routes) of(instrument, channel string, m device.Measure) []*route {
	all := r.byInput[input{instrument, channel}]
	fits := func(candidate *route) bool {
		if m == "" {
			return len(candidate.captured) > 0
		}
		return slices.Contains(candidate.asked, m)
	}
	if !slices.ContainsFunc(all, func(c *route) bool { return !fits(c) }) {
		return all
	}
	var some []*route
	for _, candidate := range all {
		if fits(candidate) {
			some = append(some, candidate)
		}
	}
	return some
}

// makeRoutes finds the way from every input to every check of the soaks.
func (b *Bench) makeRoutes(soaks []*liveSoak) *routes {
	made := &routes{byInput: map[input][]*route{}, wants: map[string][]device.Want{}}
	for _, soak := range soaks {
		for _, connection := range soak.place.Connections {
			commands, ok := b.commandsOf(connection.Instrument)
			point, wanted := pointOf(soak.sheet, connection.TestPoint)
			if !ok || !wanted {
				continue
			}
			r := &route{soak: soak, point: point, tag: book.Tag{Bench: b.settings.Bench, Console: soak.sheet.Console,
				Unit: soak.unit, TestPoint: point.Name, Instrument: connection.Instrument}}
			made.add(r, connection, commands)
		}
	}
	for instrument, wants := range made.wants {
		made.wants[instrument] = withoutBeside(wants)
	}
	return made
}

// withoutBeside leaves out the records that come along with another channel's often
// enough.
func withoutBeside(wants []device.Want) []device.Want {
	return slices.DeleteFunc(slices.Clone(wants), func(w device.Want) bool {
		return w.Measure == "" && w.Beside == "" && slices.ContainsFunc(wants, func(other device.Want) bool {
			return other.Measure == "" && other.Beside == w.Channel && other.Signal == w.Signal && other.Every <= w.Every && w.Channel != ""
		})
	})
}

// add enters one route and what it wants read.
func (m *routes) add(r *route, c Connection, commands *device.CommandSet) {
	for _, check := range r.point.Checks {
		want := device.Want{Channel: c.Channel, Measure: check.Measure, Every: check.Every}
		switch how, ask := commandedBy(commands, r.point, check.Measure); how {
		case byListening:
			r.asked = append(r.asked, check.Measure)
			r.accuracy = commands.Listen.Accuracy
			continue // it talks by itself
		case byAsking:
			r.asked = append(r.asked, check.Measure)
			r.accuracy = ask.Accuracy
		case byCapture:
			r.captured = append(r.captured, check.Measure)
			ripple, _ := commands.AskFor(device.Ripple)
			r.recordAccuracy = ripple.Accuracy
			shot := shotOf(r.point, c, r.soak.place.Connections)
			want.Measure, want.Signal, want.Beside = "", shot.Signal, shot.Beside
		default:
			continue // Validate has refused this already
		}
		m.wants[c.Instrument] = merge(m.wants[c.Instrument], want)
	}
	at := input{c.Instrument, c.Channel}
	m.byInput[at] = append(m.byInput[at], r)
}

// manner is how an instrument comes to give a measure.
type manner int

const (
	byNothing manner = iota
	byListening
	byAsking
	byCapture
)

// commandedBy tells how an instrument gives a measure of a test point, and with
// which question if it is asked. Where a check of the point needs a record, all
// that a record can give is taken from the same one, so that figures which belong
// together are of one moment.
func commandedBy(commands *device.CommandSet, point checks.TestPoint, m device.Measure) (manner, device.Ask) {
	ask, asked := commands.AskFor(m)
	switch {
	case commands.Listen != nil:
		return byListening, ask
	case ofRecord(commands, point, m) && (!asked || needsRecord(commands, point)):
		return byCapture, ask
	case asked:
		return byAsking, ask
	default:
		return byNothing, ask
	}
}

// needsRecord tells whether a check of the point can only come from a record, or the
// point's capacitor is found from one whatever is checked.
func needsRecord(commands *device.CommandSet, point checks.TestPoint) bool {
	if point.Reservoir != nil && commands.CaptureFor(device.RippleSignal) != nil {
		return true
	}
	return slices.ContainsFunc(point.Checks, func(c checks.Check) bool {
		_, asked := commands.AskFor(c.Measure)
		return !asked && ofRecord(commands, point, c.Measure)
	})
}

// ofRecord tells whether a record of the point, which the instrument can take, is
// reduced to the measure.
func ofRecord(commands *device.CommandSet, point checks.TestPoint, m device.Measure) bool {
	if point.Audio != nil {
		return commands.CaptureFor(device.AudioSignal) != nil && m.OfAudio()
	}
	if point.Reservoir != nil {
		return commands.CaptureFor(device.RippleSignal) != nil && m.OfRipple()
	}
	return commands.Capture != nil && m.OfCapture()
}

// shotOf is the record of a test point as a place is wired for it. The other channel
// of an audio output is taken at once where it is on the same instrument.
func shotOf(point checks.TestPoint, at Connection, connections []Connection) device.Shot {
	shot := device.Shot{Channel: at.Channel}
	if point.Reservoir != nil {
		shot.Signal = device.RippleSignal
	}
	if point.Audio == nil {
		return shot
	}
	shot.Signal = device.AudioSignal
	for _, c := range connections {
		if c.TestPoint == point.Audio.Beside && c.Instrument == at.Instrument {
			shot.Beside = c.Channel
		}
	}
	return shot
}

// loadOf is where the load of a reservoir capacitor is read at a place; nil where it
// is not.
func loadOf(point checks.TestPoint, connections []Connection) *Connection {
	if point.Reservoir == nil || point.Reservoir.LoadAt == "" {
		return nil
	}
	for _, c := range connections {
		if c.TestPoint == point.Reservoir.LoadAt {
			return &c
		}
	}
	return nil
}

// merge adds a want; one of the same figure is read as often as the more
// demanding asks.
func merge(wants []device.Want, want device.Want) []device.Want {
	for i, have := range wants {
		if have.Channel == want.Channel && have.Measure == want.Measure {
			wants[i].Every = min(have.Every, want.Every)
			return wants
		}
	}
	return append(wants, want)
}

// reroute makes the routes anew and tells the instruments what is wanted.
func (b *Bench) reroute() {
	made := b.makeRoutes(b.soaks)
	b.routes.Store(made)
	for name, keeper := range b.keepers {
		keeper.SetWants(made.wants[name])
	}
}

func (b *Bench) commandsOf(instrument string) (*device.CommandSet, bool) {
	for i := range b.settings.Instruments {
		if b.settings.Instruments[i].Name == instrument {
			return &b.settings.Instruments[i].Commands, true
		}
	}
	return nil, false
}

func pointOf(sheet checks.Sheet, name checks.TestPointName) (checks.TestPoint, bool) {
	for _, point := range sheet.TestPoints {
		if point.Name == name {
			return point, true
		}
	}
	return checks.TestPoint{}, false
}
