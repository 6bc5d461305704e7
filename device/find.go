package device

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"soakline/device/port"
	"soakline/device/scpi"
)

// idnScheme begins an address that names an instrument by its *IDN? answer.
const idnScheme = "idn:"

// resolve turns the link's address into one that can be opened.
func (k *Keeper) resolve(ctx context.Context) (string, error) {
	text, byIdentity := strings.CutPrefix(k.link.Port, idnScheme)
	if !byIdentity {
		return k.link.Port, nil
	}
	candidates, err := port.Candidates(ctx)
	if err != nil {
		return "", err
	}
	var tried []string
	for _, candidate := range candidates {
		identity, err := k.askWho(ctx, candidate.Path)
		if err != nil {
			tried = append(tried, candidate.Path)
			continue
		}
		if strings.Contains(identity.Text, text) {
			return candidate.Path, nil
		}
		tried = append(tried, fmt.Sprintf("%s (%s)", candidate.Path, identity.Text))
	}
	return "", &Error{Op: "find", Instrument: k.link.Name, Port: k.link.Port, Kind: Absent,
		Err: fmt.Errorf("no port's %s answer contains %q; tried: %s", k.link.Commands.Identify, text, orNone(tried))}
}

// askWho opens a port for long enough to learn who is on it.
func (k *Keeper) askWho(ctx context.Context, path string) (identity scpi.Identity, err error) {
	line, err := k.open(ctx, path, k.link.Commands.Line)
	if err != nil {
		return identity, err
	}
	defer func() { err = errors.Join(err, line.Close()) }()
	link := k.link
	link.Commands.Prepare, link.Commands.IdentifyPattern = nil, ""
	session, err := NewSession(ctx, link, path, line)
	if err != nil {
		return identity, err
	}
	return session.Identity(), nil
}

func orNone(list []string) string {
	if len(list) == 0 {
		return "none"
	}
	return strings.Join(list, ", ")
}
