//go:build !linux

package scpi

import "time"

// asleep is not known here.
func asleep() (time.Duration, bool) { return 0, false }
