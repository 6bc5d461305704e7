package main

import (
	"strings"

	"soakline/device"
	"soakline/device/scpi"
)

// askedFor says which measure a question of SCPI-1999 (volume 2, MEASure) asks
// for, so that its figure can be shown with its unit.
var askedFor = []struct {
	header  string
	measure device.Measure
}{
	{"MEASure[:SCALar]:VOLTage[:DC]?", device.DCVoltage},
	{"MEASure[:SCALar]:VOLTage:AC?", device.ACVoltage},
	{"MEASure[:SCALar]:VOLTage:PTPeak?", device.PeakToPeak},
	{"MEASure[:SCALar]:CURRent[:DC]?", device.DCCurrent},
	{"MEASure[:SCALar]:CURRent:AC?", device.ACCurrent},
	{"MEASure[:SCALar]:RESistance?", device.Resistance},
	{"MEASure[:SCALar]:FRESistance?", device.Resistance},
	{"MEASure[:SCALar]:CAPacitance?", device.Capacitance},
	{"MEASure[:SCALar]:FREQuency?", device.Frequency},
	{"MEASure[:SCALar]:PERiod?", device.Period},
	{"MEASure[:SCALar]:TEMPerature?", device.Temperature},
}

// unnamed is a figure of which only its instrument knows what it is.
const unnamed device.Measure = "figure"

// measureOf tells what a question asks for; unnamed, which has no unit, where that
// cannot be told.
func measureOf(ask string) device.Measure {
	if fields := strings.Fields(ask); len(fields) > 0 {
		for _, known := range askedFor {
			if scpi.Matches(known.header, fields[0]) {
				return known.measure
			}
		}
	}
	return unnamed
}

// onlyAsks tells whether every part of a message is a question. Semicolons in
// quotes are counted too: a message that holds any is looked at twice, and refused.
func onlyAsks(message string) bool {
	for part := range strings.SplitSeq(message, ";") {
		if !scpi.IsQuery(part) {
			return false
		}
	}
	return true
}
