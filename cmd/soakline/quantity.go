package main

import (
	"math"
	"strings"

	"soakline/checks/parts"
)

// quantityFlag is a flag that takes a part's value as IEC 60062 writes it (4k7,
// 1n5) or a plain number in the SI unit.
type quantityFlag struct {
	into *float64
	unit parts.Unit
}

func (f quantityFlag) String() string {
	if f.into == nil || *f.into == 0 || math.IsInf(*f.into, 0) {
		return ""
	}
	return parts.Code(*f.into, f.unit)
}

func (f quantityFlag) Set(text string) (err error) {
	*f.into, err = parts.ParseQuantity(text, f.unit)
	return err
}

func (f quantityFlag) Type() string { return string(f.unit) }

// quantitiesFlag takes several, separated by commas or in several flags.
type quantitiesFlag struct {
	into *[]float64
	unit parts.Unit
}

func (f quantitiesFlag) String() string { return "" }

func (f quantitiesFlag) Set(text string) error {
	for _, one := range strings.Split(text, ",") {
		value, err := parts.ParseQuantity(strings.TrimSpace(one), f.unit)
		if err != nil {
			return err
		}
		*f.into = append(*f.into, value)
	}
	return nil
}

func (f quantitiesFlag) Type() string { return string(f.unit) + ",…" }

// seriesFlag takes the name of a series of preferred values.
type seriesFlag struct{ into *parts.Series }

func (f seriesFlag) String() string {
	if f.into == nil {
		return ""
	}
	return f.into.String()
}

func (f seriesFlag) Set(text string) (err error) {
	*f.into, err = parts.ParseSeries(text)
	return err
}

func (f seriesFlag) Type() string { return "series" }
