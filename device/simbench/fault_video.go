package simbench

import (
	"errors"
	"fmt"
)

// fault changes the video output and checks that what comes out can exist.
func (p *composite) fault(name string, args []string) error {
	next := p.config
	if err := next.change(name, args); err != nil {
		return err
	}
	var m mistakes
	m.composite("composite", next)
	if err := errors.Join(m.found...); err != nil {
		return err
	}
	p.config = next
	p.rebuild()
	return nil
}

// change applies one fault to a copy that is validated before it is used.
func (c *CompositeConfig) change(name string, args []string) error {
	switch name {
	case "picture":
		if len(args) != 1 {
			return errors.New("which picture?")
		}
		c.Picture = args[0]
		return nil
	case "load":
		return c.changeLoad(args)
	case "tone", "ring":
		return c.changePair(name, args)
	}
	v, err := numbers(args, 1)
	if err != nil {
		return err
	}
	field := map[string]*float64{
		"offset": &c.OffsetV, "noise": &c.NoiseRMSV, "hum": &c.HumPPV, "bandwidth": &c.BandwidthHz,
		"coupling": &c.CouplingF, "sync": &c.SyncRatio, "burst": &c.BurstRatio, "hot": &c.Gain,
	}[name]
	if field == nil {
		return errNoSuchFault
	}
	if name == "hot" {
		v[0] *= c.Gain
	}
	*field = v[0]
	return nil
}

func (c *CompositeConfig) changePair(name string, args []string) error {
	v, err := numbers(args, 2)
	if err != nil {
		return err
	}
	if name == "tone" {
		c.ToneHz, c.ToneRMSV = v[0], v[1]
	} else {
		c.RingHz, c.RingRatio = v[0], v[1]
	}
	return nil
}

// changeLoad fits another load: "double" is a second 75 ohm in parallel.
func (c *CompositeConfig) changeLoad(args []string) error {
	if len(args) != 1 {
		return errors.New("wants none, double or ohms")
	}
	switch args[0] {
	case "none":
		c.LoadOhm = 0
	case "double":
		c.LoadOhm = sourceOhm / 2.0
	default:
		v, err := numbers(args, 1)
		if err != nil {
			return err
		}
		if v[0] <= 0 {
			return fmt.Errorf("%g ohm is not above 0", v[0])
		}
		c.LoadOhm = v[0]
	}
	return nil
}
