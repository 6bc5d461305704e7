package port

import (
	"context"
	"path/filepath"
)

// Open opens the port at address (see ParseAddress) and sets its line. Whatever
// the system had kept from before, in either direction, is thrown away; still the
// first bytes read can be the tail of a line, and an instrument that sends
// unasked may have been echoed for an instant before the line was set, so a
// conversation begins by clearing the far end. DTR and RTS are raised where the
// device has them.
//
// Nobody else can open the port until Close. Programs that lock the device with
// flock are kept out as well, which is what holds among programs run by root.
//
// Errors are *Error, of kind absent, busy, denied, unsuitable, failed, timeout or
// canceled.
func Open(ctx context.Context, address string, s Settings) (*Port, error) {
	line, name, err := open(ctx, address, s)
	if err != nil {
		return nil, explainOpen(ctx, address, name, err)
	}
	return &Port{address: address, name: name, line: line}, nil
}

func open(ctx context.Context, address string, s Settings) (line, string, error) {
	if err := ctx.Err(); err != nil {
		return nil, "", err
	}
	a, err := ParseAddress(address)
	if err != nil {
		return nil, "", unsuitable(err)
	}
	if a.Host != "" {
		return dialTCP(ctx, a)
	}
	if err := s.Validate(); err != nil {
		return nil, "", unsuitable(err)
	}
	name := a.Path
	if a.VendorID != "" {
		if name, err = findUSB(ctx, a, enumerate); err != nil {
			return nil, "", err
		}
	}
	if name, err = resolve(name); err != nil {
		return nil, a.Path, err
	}
	l, err := openTTY(name, s)
	return l, name, err
}

// resolve follows links, so that the name is that of the device and two links to
// one device are one port.
func resolve(path string) (string, error) {
	if windowsName.MatchString(path) {
		return path, nil
	}
	return filepath.EvalSymlinks(path)
}

// explainOpen makes err the error of an Open, with a hint. A cause that already
// knows what to do about it keeps its hint.
func explainOpen(ctx context.Context, address, name string, err error) *Error {
	kind := kindOfOpen(err)
	e := &Error{Op: "open", Port: label(address, name), Kind: kind, Err: err}
	switch kind {
	case KindDenied:
		e.settling = settling(name)
		e.Hint = deniedHint(ctx, name)
	case KindBusy:
		e.Hint = busyHint(name)
	case KindAbsent:
		e.Hint = "Plug the adapter in or switch the server on; soakline ports shows what is there."
	}
	return e
}
