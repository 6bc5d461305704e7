package simbench

import (
	"errors"
	"fmt"
	"strings"
)

var errNoSuchFault = errors.New("there is no such fault")

// fault turns one fault of the unit on.
func (u *unit) fault(name string, args []string, now float64) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	switch name {
	case "clear":
		u.clear()
		return nil
	case "half-wave":
		u.reservoir.config.HalfWave = true
		u.reservoir.reshape()
		return nil
	case "wear":
		return u.wear(args)
	case "power":
		return u.switchPower(args, now)
	case "clip":
		return u.clip(args, now)
	}
	if len(args) == 0 {
		return errors.New("which test point?")
	}
	if r := u.rails[args[0]]; r != nil {
		return r.fault(name, args[1:], now)
	}
	if t := u.tones[args[0]]; t != nil {
		return t.fault(name, args[1:])
	}
	if u.composite != nil && args[0] == u.composite.config.Name {
		return u.composite.fault(name, args[1:])
	}
	return fmt.Errorf("%q is no rail, video or audio point of this unit, or has no such fault", args[0])
}

// wear gives the reservoir capacitor another capacitance (farad) and series
// resistance (ohm).
func (u *unit) wear(args []string) error {
	v, err := numbers(args, 2)
	if err != nil {
		return err
	}
	if v[0] < 1e-6 || v[1] < 0 {
		return fmt.Errorf("%g F with %g ohm is no reservoir capacitor", v[0], v[1])
	}
	u.reservoir.config.CapacitanceF, u.reservoir.config.ESROhm = v[0], v[1]
	u.reservoir.reshape()
	return nil
}

// clear takes back every change but the state of the mains switch.
func (u *unit) clear() {
	u.reservoir.config = u.freshReservoir
	u.reservoir.reshape()
	for _, r := range u.rails {
		r.changes = nil
	}
	for _, c := range u.config.Tones {
		*u.tones[c.Name] = tone{config: c, input: u.reservoir}
	}
	if u.composite != nil {
		u.composite.config = u.freshComposite
		u.composite.rebuild()
	}
}

// switchPower refuses what would change nothing, so that a script's mistake shows.
func (u *unit) switchPower(args []string, now float64) error {
	state := strings.Join(args, " ")
	switch {
	case state != "on" && state != "off":
		return fmt.Errorf("%q is neither on nor off", state)
	case (state == "on") == u.reservoir.powered(now):
		return fmt.Errorf("the power is %s already", state)
	case state == "on":
		u.reservoir.powerOn(now)
	default:
		u.reservoir.powerOff(now)
	}
	return nil
}

// clip puts a resistor across the reservoir for a time.
func (u *unit) clip(args []string, now float64) error {
	if len(args) != 2 {
		return errors.New("wants ohms and a time")
	}
	ohm, err := numbers(args[:1], 1)
	if err != nil {
		return err
	}
	seconds, err := parseSpan(args[1])
	if err != nil {
		return err
	}
	if ohm[0] < 0.01 {
		return fmt.Errorf("%g ohm is below 0.01", ohm[0])
	}
	if !u.reservoir.clip(now, ohm[0], seconds) {
		return errors.New("the unit is powered: switch it off first")
	}
	return nil
}

// fault adds a change that begins now; changes add up.
func (r *rail) fault(name string, args []string, now float64) error {
	v, err := numbers(args, 1)
	if err != nil {
		return err
	}
	c := change{from: now}
	switch name {
	case "drift":
		c.driftPerS = v[0]
	case "step":
		c.step = v[0]
	case "noise":
		c.noiseRMS = v[0]
	case "ripple":
		c.ripplePeakVolts = v[0] / 2
	default:
		return errNoSuchFault
	}
	r.changes = append(r.changes, c)
	return nil
}

// fault changes the tone for what follows and, since a tone has no memory, for a
// record that is still being taken.
func (a *tone) fault(name string, args []string) error {
	if name == "crackle" || name == "mute" {
		return a.disturb(name, args)
	}
	v, err := numbers(args, 1)
	if err != nil {
		return err
	}
	switch name {
	case "hot":
		a.config.LevelRMSV *= v[0]
	case "noise":
		a.extra = v[0]
	case "hum":
		a.config.HumRMSV = v[0] / 2.8284271247461903 // peak to peak of a sine
	case "offset":
		a.config.OffsetV = v[0]
	default:
		return errNoSuchFault
	}
	return nil
}

// disturb makes the tone crackle (a step of so many volts for 100 us) or be mute for
// 25 ms, each once in every so many seconds.
func (a *tone) disturb(name string, args []string) error {
	want := map[string]int{"crackle": 2, "mute": 1}[name]
	v, err := numbers(args, want)
	if err != nil {
		return err
	}
	every := v[want-1]
	if every < 0.01 {
		return fmt.Errorf("every %g s is more often than every 0.01 s", every)
	}
	if name == "mute" {
		a.muteEvery = every
		return nil
	}
	a.crackleVolts, a.crackleEvery = v[0], every
	return nil
}
