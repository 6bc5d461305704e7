package audio

import (
	"fmt"
	"math"
)

// Change is how one figure of a channel differs between two records, in dB.
type Change struct {
	// Channel and Name say what it is: "left", "noise".
	Channel, Name string
	// Before and After are in volts rms, or shares of full scale.
	Before, After Measured
	// Decibels is 20 log10(after/before).
	Decibels Measured
	// BelowDecibels is how far the louder of the two is below Reference: the tone,
	// or 1 V or full scale where there is none in both. NaN for the level itself.
	BelowDecibels float64
	Reference     string
	// Resolved tells that the change is larger than its expanded uncertainty (k = 2).
	Resolved bool
	// Matters tells that a person may hear it, by the rule that Text gives.
	Matters bool
	Text    string
}

// AudibleDecibels and buriedDecibels are what a change must reach to matter: a level by 1 dB (common practice, no source),
// something below the signal by 1 dB, too, and the louder of before and after must
// be within what a good signal to noise leaves to be heard.
const (
	AudibleDecibels = 1
	buriedDecibels  = 60
)

// Compare sets two results side by side, channel by channel, and says of each
// figure how much it changed, at what level that is, and whether it matters. Both
// must have the same channels, and volts or none.
func Compare(before, after Result) ([]Change, error) {
	if len(before.Channels) != len(after.Channels) {
		return nil, fmt.Errorf("compare audio: %d channels before, %d after", len(before.Channels), len(after.Channels))
	}
	if before.Relative != after.Relative {
		return nil, fmt.Errorf("compare audio: one record is in volts, the other against full scale")
	}
	var all []Change
	for i, was := range before.Channels {
		is := after.Channels[i]
		all = append(all, levelChange(was, is))
		for _, f := range []struct {
			name    string
			was, is Measured
		}{
			{"noise", was.NoiseVolts, is.NoiseVolts}, {"noise, weighted A", was.NoiseAVolts, is.NoiseAVolts},
			{"hum", was.HumVolts, is.HumVolts}, {"distortion", was.harmonics(), is.harmonics()},
		} {
			all = append(all, smallChange(f.name, was, is, f.was, f.is))
		}
	}
	for i := range all {
		if all[i].Reference == "" {
			all[i].Reference = map[bool]string{false: "1 V", true: "full scale"}[before.Relative]
		}
		all[i].Text = all[i].sentence(before.Relative)
	}
	return all, nil
}

// harmonics is the rms of all harmonics together.
func (c ChannelResult) harmonics() Measured {
	if !c.THDPercent.OK() {
		return notMeasured()
	}
	return Measured{Value: c.THDPercent.Value / 100 * c.ToneVolts.Value, U: c.THDPercent.U / 100 * c.ToneVolts.Value}
}

func newChange(channel, name string, was, is Measured) Change {
	c := Change{Channel: channel, Name: name, Before: was, After: is, BelowDecibels: math.NaN()}
	c.Decibels = is.over(was).Decibels(1)
	c.Resolved = c.Decibels.OK() && math.Abs(c.Decibels.Value) > 2*c.Decibels.U
	return c
}

func levelChange(was, is ChannelResult) Change {
	c := newChange(was.Name, "level", was.LevelVolts(), is.LevelVolts())
	c.Matters = c.Resolved && math.Abs(c.Decibels.Value) >= AudibleDecibels
	return c
}

// smallChange is the change of something that the signal may hide. Where there is
// no signal to hide it, it counts against 1 V or full scale.
func smallChange(name string, wasAll, isAll ChannelResult, was, is Measured) Change {
	c := newChange(wasAll.Name, name, was, is)
	louder, signal := math.Max(was.Value, is.Value), 1.0
	if wasAll.ToneVolts.OK() && isAll.ToneVolts.OK() {
		c.Reference = "the tone"
		signal = math.Min(wasAll.ToneVolts.Value, isAll.ToneVolts.Value)
	}
	c.BelowDecibels = -Measured{Value: louder / signal}.Decibels(1).Value
	c.Matters = c.Resolved && math.Abs(c.Decibels.Value) >= AudibleDecibels && c.BelowDecibels < buriedDecibels
	return c
}

// sentence says the change as one would at the bench.
func (c Change) sentence(relative bool) string {
	subject := c.Name + " on " + c.Channel
	if !c.Decibels.OK() {
		return fmt.Sprintf("The %s can't be compared: it was %s, it is %s.", subject, c.level(c.Before, relative), c.level(c.After, relative))
	}
	change := DecibelText(Measured{Value: math.Abs(c.Decibels.Value), U: c.Decibels.U}, "dB")
	verb := "up"
	if c.Decibels.Value < 0 {
		verb = "down"
	}
	text := fmt.Sprintf("The %s is %s by %s, to %s", subject, verb, change, c.level(c.After, relative))
	if !math.IsNaN(c.BelowDecibels) {
		text += fmt.Sprintf("; the louder is %.0f dB below %s", c.BelowDecibels, c.Reference)
	}
	switch {
	case !c.Resolved:
		return text + ": no more than the measurement's own uncertainty."
	case c.Matters:
		return text + ": this can be heard."
	case math.Abs(c.Decibels.Value) < AudibleDecibels:
		return text + ": less than 1 dB, which nobody hears."
	default:
		return text + ": too far down to matter."
	}
}

func (c Change) level(m Measured, relative bool) string {
	unit := "dBV"
	if relative {
		unit = "dB of full scale"
	}
	return DecibelText(Measured{Value: m.Decibels(1).Value}, unit)
}
