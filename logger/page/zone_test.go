package page

import (
	"errors"
	"testing"
)

// TestZoneName: tzset(3) for TZ; localtime(5) for the link.
func TestZoneName(t *testing.T) {
	for _, row := range []struct {
		name, tz string
		set      bool
		link     string
		want     string
	}{
		{"TZ", "Europe/London", true, "../usr/share/zoneinfo/Asia/Tokyo", "Europe/London"},
		{"TZ with a colon", ":Europe/London", true, "", "Europe/London"},
		{"TZ set and empty", "", true, "../usr/share/zoneinfo/Asia/Tokyo", "UTC"},
		{"a link", "", false, "/usr/share/zoneinfo/Europe/London", "Europe/London"},
		{"a link elsewhere", "", false, "/etc/my-time", ""},
		{"no link", "", false, "", ""},
		{"a rule of its own", "CET-1CEST,M3.5.0,M10.5.0/3", true, "", ""},
	} {
		link := func(string) (string, error) {
			if row.link == "" {
				return "", errors.New("no such file")
			}
			return row.link, nil
		}
		got := zoneName(func(string) (string, bool) { return row.tz, row.set }, link)
		if got != row.want {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
}
