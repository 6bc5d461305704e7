package port

import (
	"context"
	"errors"
	"slices"
	"testing"
)

func paths(ports []Info) []string {
	var names []string
	for _, p := range ports {
		names = append(names, p.Path)
	}
	return names
}

func TestSP26CandidatesLeaveBuiltInPortsAlone(t *testing.T) {
	built := Info{Path: "/dev/ttyS0", State: StateFree}
	ports := []Info{
		built,
		{Path: "/dev/ttyUSB0", State: StateDenied},
		{Path: "/dev/ttyUSB1", State: StateBusy},
		{Path: "/dev/ttyUSB2", State: StateFree},
	}
	if got, want := paths(worthTrying(ports)), []string{"/dev/ttyUSB2", "/dev/ttyUSB1", "/dev/ttyUSB0"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if got := paths(worthTrying([]Info{built})); !slices.Equal(got, []string{"/dev/ttyS0"}) {
		t.Errorf("with nothing else: %v", got)
	}
	if got := worthTrying(nil); len(got) != 0 {
		t.Errorf("with nothing at all: %v", got)
	}
	if ports[0] != built {
		t.Error("the list given was changed")
	}
}

func TestCandidatesOfThisMachine(t *testing.T) {
	all, err := List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	some, err := Candidates(t.Context())
	if err != nil || len(some) > len(all) || (len(all) > 0) != (len(some) > 0) {
		t.Errorf("%d of %d, %v", len(some), len(all), err)
	}
}

func TestListUnderAnEndedContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := List(ctx)
	wantKind(t, err, KindCanceled)
	if _, err := Candidates(ctx); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestCompareNames(t *testing.T) {
	got := []string{"/dev/ttyUSB10", "/dev/ttyUSB2", "/dev/ttyACM0", "COM3", "COM12"}
	slices.SortFunc(got, compareNames)
	want := []string{"/dev/ttyACM0", "/dev/ttyUSB2", "/dev/ttyUSB10", "COM3", "COM12"}
	if !slices.Equal(got, want) {
		t.Errorf("got %v", got)
	}
}

func TestInfoAddress(t *testing.T) {
	for want, i := range map[string]Info{
		"usb:0403:6001:A1": {Path: "/dev/ttyUSB0", USB: true, VendorID: "0403", ProductID: "6001", Serial: "A1"},
		"/dev/ttyUSB1":     {Path: "/dev/ttyUSB1", USB: true, VendorID: "1a86", ProductID: "7523"},
		"/dev/by-path/2":   {Path: "/dev/ttyUSB1", USB: true, VendorID: "1a86", ProductID: "7523", ByPath: "/dev/by-path/2"},
		"/dev/ttyS0":       {Path: "/dev/ttyS0"},
	} {
		if got := i.Address(); got != want {
			t.Errorf("%+v has address %s, want %s", i, got, want)
		}
	}
}
