package port

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
)

// findUSB gives the name of the one port whose adapter is a. That several match
// is an error, because only a person can tell which socket is meant. It is asked
// once a second while the adapter is away, so list need not tell who holds a port.
func findUSB(ctx context.Context, a Address, list func(context.Context) ([]Info, error)) (string, error) {
	if !seesUSB {
		return "", unsuitable(errors.New("this build cannot see USB identities: use the device's path"))
	}
	ports, err := list(ctx)
	if err != nil {
		return "", err
	}
	var found []Info
	for _, p := range ports {
		if p.VendorID == a.VendorID && p.ProductID == a.ProductID &&
			(a.Serial == "" || strings.EqualFold(a.Serial, p.Serial)) {
			found = append(found, p)
		}
	}
	switch len(found) {
	case 0:
		return "", fmt.Errorf("no adapter %s is plugged in: %w", a, os.ErrNotExist)
	case 1:
		return found[0].Path, nil
	}
	return "", unsuitable(fmt.Errorf("%d ports match (%s): use the by-path link of the one you mean, which follows the socket", len(found), candidates(found)))
}

func candidates(ports []Info) string {
	var names []string
	for _, p := range ports {
		text := p.Path
		if p.Serial != "" {
			text += " serial " + p.Serial
		}
		if p.ByPath != "" {
			text += " at " + p.ByPath
		}
		names = append(names, text)
	}
	return strings.Join(names, ", ")
}
