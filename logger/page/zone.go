package page

import (
	"os"
	"strings"
	"time"
)

// zoneName is the name of the time zone that the bench's clock shows, as the tz
// database has it; empty where the host does not say. Times of the API carry their
// offset either way; the name tells what it was on another day.
func zoneName(environment func(string) (string, bool), link func(string) (string, error)) string {
	name, given := environment("TZ")
	name = strings.TrimPrefix(name, ":")
	if !given {
		target, err := link("/etc/localtime")
		if err != nil {
			return ""
		}
		_, name, _ = strings.Cut(target, "zoneinfo/")
	} else if name == "" {
		return "UTC" // tzset(3): set and empty
	}
	if _, err := time.LoadLocation(name); err != nil || name == "" {
		return ""
	}
	return name
}

// benchZone is the zone of the host that the bench runs on.
var benchZone = zoneName(os.LookupEnv, os.Readlink)
