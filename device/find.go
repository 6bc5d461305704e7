package device

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"soakline/device/port"
	"soakline/device/scpi"
)

// idnScheme begins an address that names an instrument by its *IDN? answer.
const idnScheme = "idn:"

// searchTimeout is how long one port is given to say who is on it.
const searchTimeout = 1500 * time.Millisecond

// resolve turns the link's address into one that can be opened.
func (k *Keeper) resolve(ctx context.Context) (string, error) {
	text, byIdentity := strings.CutPrefix(k.link.Port, idnScheme)
	if !byIdentity {
		return k.link.Port, nil
	}
	if k.link.Commands.Identify == "" {
		return "", k.notFound(Unsuitable, "Name the port itself, or give the command set an identify question.",
			fmt.Errorf("%w %q: who the instrument is", errUnsuitable, k.link.Commands.Name))
	}
	candidates, err := k.candidates(ctx)
	if err != nil {
		return "", err
	}
	var tried []string
	hint := ""
	for _, candidate := range candidates {
		identity, err := k.askWho(ctx, candidate.Path)
		switch {
		case ctx.Err() != nil:
			return "", ctx.Err()
		case err == nil && strings.Contains(identity.Text, text):
			return candidate.Path, nil
		case err == nil:
			tried = append(tried, fmt.Sprintf("%s (%s)", candidate.Path, identity.Text))
		default:
			tried = append(tried, fmt.Sprintf("%s (%s)", candidate.Path, kindOf(err)))
			if line, ok := errors.AsType[*port.Error](err); ok && line.Kind == port.KindDenied {
				hint = cmp.Or(hint, line.Hint)
			}
		}
	}
	return "", k.notFound(Absent, hint, fmt.Errorf("no port's %s answer contains %q; tried: %s",
		k.link.Commands.Identify, text, cmp.Or(strings.Join(tried, ", "), "none, there is no port")))
}

func (k *Keeper) notFound(kind Kind, hint string, err error) error {
	return &Error{Op: "find", Instrument: k.link.Name, Port: k.link.Port, Kind: kind, Hint: hint, Err: err}
}

// askWho opens a port for long enough to learn who is on it. Nobody is prepared:
// most of those asked are other instruments.
func (k *Keeper) askWho(ctx context.Context, path string) (identity scpi.Identity, err error) {
	ctx, cancel := context.WithTimeout(ctx, searchTimeout)
	defer cancel()
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
