package book

import (
	"database/sql"
	"time"
)

// micro is t as the book keeps it: to the microsecond, in UTC.
func micro(t time.Time) time.Time { return time.UnixMicro(t.UnixMicro()).UTC() }

// fromMicro is the time of a column that is never NULL.
func fromMicro(us int64) time.Time { return time.UnixMicro(us).UTC() }

// orNull stores the zero time as NULL: it stands for "not yet".
func orNull(t time.Time) sql.NullInt64 {
	if t.IsZero() {
		return sql.NullInt64{}
	}
	return sql.NullInt64{Int64: t.UnixMicro(), Valid: true}
}

// fromNull is the time of a column that may be NULL.
func fromNull(us sql.NullInt64) time.Time {
	if !us.Valid {
		return time.Time{}
	}
	return fromMicro(us.Int64)
}
