package page

import (
	"context"
	"net/http"
	"runtime"

	"golang.org/x/sync/errgroup"

	"soakline/checks"
	"soakline/logger/book"
)

const (
	// singlesPerBucket is how many readings an interval may have on average for
	// all of them to be shown, one by one.
	singlesPerBucket = 4
	// mostSeries bounds what one chart may be asked for.
	mostSeries = 256
	// exactReadings is how many readings all series of a chart together may have
	// for them to be read one by one, and exactOfOne how many one series: half a
	// second, and half a tenth, of one core. Beyond that a chart is made of what
	// the book knows of each of its blocks, some 2,000 readings: no peak is lost,
	// only its place within a few pixels.
	exactReadings, exactOfOne = 4_000_000, 500_000
)

func (s *Server) chartRoutes() []route {
	return []route{get("/api/v1/charts",
		"Gives the readings of a soak, or of a unit's time, as a chart needs them, with limits, excursions and gaps.", s.getCharts, chartParameters...)}
}

func (s *Server) getCharts(r *http.Request) (ChartView, error) {
	q, err := s.chartAsked(r)
	if err != nil {
		return ChartView{}, err
	}
	return s.chart(r.Context(), q)
}

// chart reads what a chart shows; its series side by side.
func (s *Server) chart(ctx context.Context, q chartQuery) (ChartView, error) {
	view := ChartView{FromS: seconds(q.from), UntilS: seconds(q.until), Series: []SeriesView{}, Soaks: []SoakRecordView{}}
	tags, err := s.bench.Book().Tags(ctx, book.Filter{Unit: q.unit})
	if err != nil {
		return view, err
	}
	notes, err := s.chartNotes(ctx, q)
	if err != nil {
		return view, err
	}
	view.Soaks = append(view.Soaks, notes.soaks...)
	var wanted []book.Tag
	for _, tag := range tags {
		if q.wants(tag) {
			wanted = append(wanted, tag)
		}
	}
	if len(wanted) > mostSeries {
		return view, refusal(http.StatusUnprocessableEntity, "%d series; one chart shows at most %d", len(wanted), mostSeries)
	}
	all := make([]SeriesView, len(wanted))
	q.series = len(wanted)
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(runtime.GOMAXPROCS(0))
	for i, tag := range wanted {
		group.Go(func() (err error) {
			all[i], err = s.series(ctx, q, tag, notes)
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return view, err
	}
	for _, series := range all {
		if series.Readings > 0 {
			view.Series = append(view.Series, series)
		}
	}
	return view, nil
}

// series reads one series of a chart.
func (s *Server) series(ctx context.Context, q chartQuery, tag book.Tag, notes chartNotes) (SeriesView, error) {
	key := checks.CheckKey{TestPoint: tag.TestPoint, Measure: tag.Measure}
	view := SeriesView{Of: string(tag.Unit), TestPoint: string(tag.TestPoint), Measure: string(tag.Measure), Instrument: tag.Instrument,
		Unit: tag.Measure.Unit().Symbol, BeginS: seconds(q.from), AtS: Column{},
		Excursions: append([]ExcursionView{}, notes.excursions[key]...), Gaps: append([]GapView{}, notes.gaps[key]...)}
	buckets, err := s.buckets(ctx, q, tag)
	for _, bucket := range buckets {
		view.Readings += bucket.Count
	}
	if err != nil || view.Readings == 0 {
		return view, err
	}
	if view.Limit, err = s.limitOf(ctx, q, tag, notes); err != nil {
		return view, err
	}
	if view.Readings > int64(singlesPerBucket*q.buckets) {
		view.setEnvelope(buckets)
		return view, nil
	}
	view.Kind = ReadingsKind
	for reading, err := range s.bench.Book().Readings(ctx, q.filter(tag)) {
		if err != nil {
			return view, err
		}
		view.add(reading)
	}
	return view, nil
}

// buckets are what a series does in the chart's intervals: exactly where that is
// quick, else as its blocks have it.
func (s *Server) buckets(ctx context.Context, q chartQuery, tag book.Tag) ([]book.Bucket, error) {
	rough, err := s.bench.Book().Overviews(ctx, q.filter(tag), q.buckets)
	if err != nil || len(rough) == 0 {
		return nil, err
	}
	var readings int64
	for _, bucket := range rough[0].Buckets {
		readings += bucket.Count
	}
	if readings > min(exactOfOne, exactReadings/int64(q.series)) {
		return rough[0].Buckets, nil
	}
	exact, err := s.bench.Book().Envelopes(ctx, q.filter(tag), q.buckets)
	if err != nil || len(exact) == 0 {
		return nil, err
	}
	return exact[0].Buckets, nil
}

// limitOf is what the sheet asks of a series, with the guard band of its latest
// reading; nil where it asks nothing.
func (s *Server) limitOf(ctx context.Context, q chartQuery, tag book.Tag, notes chartNotes) (*LimitView, error) {
	check, asked := notes.checks[checks.CheckKey{TestPoint: tag.TestPoint, Measure: tag.Measure}]
	if !asked {
		return nil, nil
	}
	last, err := s.bench.Book().Last(ctx, q.filter(tag))
	if err != nil || len(last) == 0 {
		return nil, err
	}
	return viewLimit(check, last[0].StandardUncertainty), nil
}
