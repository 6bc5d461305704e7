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
	envelopes, err := s.bench.Book().Charts(ctx, q.filter(tag), q.buckets)
	if err != nil || len(envelopes) == 0 {
		return view, err
	}
	for _, bucket := range envelopes[0].Buckets {
		view.Readings += bucket.Count
	}
	if view.Readings == 0 {
		return view, nil
	}
	if view.Limit, err = s.limitOf(ctx, q, tag, notes); err != nil {
		return view, err
	}
	if view.Readings > int64(singlesPerBucket*q.buckets) {
		view.setEnvelope(envelopes[0].Buckets)
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
