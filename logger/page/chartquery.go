package page

import (
	"context"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"time"

	"soakline/checks"
	"soakline/logger/book"
)

// chartQuery is what a chart is asked to show.
type chartQuery struct {
	unit        checks.UnitID
	soak        *book.Soak
	from, until time.Time
	points      []string
	measures    []string
	buckets     int
	// series is how many series there are to draw.
	series int
}

const (
	// chartBuckets is how many intervals a chart has unless asked otherwise, and
	// mostBuckets the most: more than any screen is wide.
	chartBuckets, mostBuckets = 800, 4000
	// latestS is the end of the year 9999, beyond which JSON has no times.
	latestS = 253402300799
)

// chartParameters are the keys of a chart's query.
var chartParameters = []parameter{
	{name: "soak", about: "a soak by number; its unit, and its time unless from_s and until_s narrow it", kind: reflect.Int},
	{name: "unit", about: "a unit, where no soak is given", kind: reflect.String},
	{name: "from_s", about: "begin in seconds since 1970 UTC; needed where no soak is given", kind: reflect.Float64},
	{name: "until_s", about: "end, likewise; now if left out", kind: reflect.Float64},
	{name: "test_point", about: "a test point; all if left out", kind: reflect.String, many: true},
	{name: "measure", about: "a measure; all if left out", kind: reflect.String, many: true},
	{name: "buckets", about: "how many intervals across, 1 to 4000; 800 if left out", kind: reflect.Int},
}

// chartAsked reads a chart's query.
func (s *Server) chartAsked(r *http.Request) (chartQuery, error) {
	values := r.URL.Query()
	q := chartQuery{unit: checks.UnitID(values.Get("unit")), points: values["test_point"], measures: values["measure"], buckets: chartBuckets}
	if err := s.chartSoak(r.Context(), values, &q); err != nil {
		return q, err
	}
	if text := values.Get("buckets"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > mostBuckets {
			return q, refusal(http.StatusUnprocessableEntity, "buckets %q: a number from 1 to %d", text, mostBuckets)
		}
		q.buckets = n
	}
	for name, to := range map[string]*time.Time{"from_s": &q.from, "until_s": &q.until} {
		if err := timeIn(values, name, to); err != nil {
			return q, err
		}
	}
	switch {
	case q.unit == "":
		return q, refusal(http.StatusUnprocessableEntity, "soak or unit: say what the chart is of")
	case q.from.IsZero():
		return q, refusal(http.StatusUnprocessableEntity, "from_s: say from when, in seconds since 1970 UTC")
	case !q.until.After(q.from):
		return q, refusal(http.StatusUnprocessableEntity, "until_s: it must be after from_s")
	}
	return q, nil
}

// chartSoak fills in what the soak says, or that the chart ends now.
func (s *Server) chartSoak(ctx context.Context, values url.Values, q *chartQuery) error {
	q.until = time.Now()
	text := values.Get("soak")
	if text == "" {
		return nil
	}
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return refusal(http.StatusUnprocessableEntity, "soak %q is no number of a soak", text)
	}
	soak, err := s.bench.Book().Soak(ctx, book.SoakID(id))
	if err != nil {
		return err
	}
	q.soak, q.unit, q.from = &soak, soak.Unit, soak.Begin
	if !soak.End.IsZero() {
		q.until = soak.End.Add(time.Microsecond) // a reading at the end is the soak's
	}
	return nil
}

// timeIn reads a time of a query, if it is there.
func timeIn(values url.Values, name string, to *time.Time) error {
	text := values.Get(name)
	if text == "" {
		return nil
	}
	s, err := strconv.ParseFloat(text, 64)
	if err != nil || !(s >= 0 && s <= latestS) {
		return refusal(http.StatusUnprocessableEntity, "%s %q: seconds since 1970 UTC", name, text)
	}
	*to = instant(s)
	return nil
}

// wants tells whether the chart shows a series.
func (q chartQuery) wants(tag book.Tag) bool {
	return (len(q.points) == 0 || slices.Contains(q.points, string(tag.TestPoint))) &&
		(len(q.measures) == 0 || slices.Contains(q.measures, string(tag.Measure)))
}

// filter picks one series in the chart's time.
func (q chartQuery) filter(tag book.Tag) book.Filter {
	return book.Filter{Bench: tag.Bench, Console: tag.Console, Unit: tag.Unit, TestPoint: tag.TestPoint, Instrument: tag.Instrument,
		Measure: tag.Measure, Since: q.from, Until: q.until}
}
