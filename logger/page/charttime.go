package page

import (
	"math"
	"time"
)

// offset is a time in seconds after a begin, to the millisecond.
func offset(beginS float64, at time.Time) float64 {
	return math.Round((float64(at.UnixMicro())-beginS*1e6)/1e3) / 1e3
}

// seconds is a time as seconds since 1970 UTC.
func seconds(at time.Time) float64 { return float64(at.UnixMicro()) / 1e6 }

// instant is the time of seconds since 1970 UTC, to the microsecond.
func instant(s float64) time.Time { return time.UnixMicro(int64(math.Round(s * 1e6))) }
