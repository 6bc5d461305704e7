package page

import (
	"context"
	"net/http"
	"reflect"
	"strconv"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// RecordView is a scope record as it is drawn, with what it says. Its times are
// seconds from the first leading edge of line sync, or from its begin where there
// is none, so that records can be laid over each other.
type RecordView struct {
	Soak int64 `json:"soak,omitempty"`
	// Round is the label of its round, Candidate the part value fitted in a trial.
	Round           string     `json:"round,omitempty"`
	Candidate       *float64   `json:"candidate,omitempty"`
	TestPoint       string     `json:"test_point"`
	Instrument      string     `json:"instrument"`
	At              *time.Time `json:"at"`
	Samples         int        `json:"samples"`
	SampleIntervalS float64    `json:"sample_interval_s"`
	BeginS          float64    `json:"begin_s"`
	// IntervalS is how far the columns' rows are apart; low_v and high_v are the
	// extremes of all samples in each, the first of which begins at begin_s.
	IntervalS float64 `json:"interval_s"`
	LowV      Column  `json:"low_v"`
	HighV     Column  `json:"high_v"`
	// Line is the mean line of a composite output; null where there is none.
	Line *LineView `json:"line"`
	// Spectrum is that of an audio output; null where there is none.
	Spectrum *SpectrumView      `json:"spectrum"`
	Figures  []RecordFigureView `json:"figures"`
	Findings []FindingView      `json:"findings"`
}

// LineView is a line of video, averaged over the lines of a record.
type LineView struct {
	Lines     int     `json:"lines"`
	BeginS    float64 `json:"begin_s"`
	IntervalS float64 `json:"interval_s"`
	V         Column  `json:"v"`
}

// RecordFigureView is one figure that a record was reduced to.
type RecordFigureView struct {
	Measure string   `json:"measure"`
	Unit    string   `json:"unit"`
	Value   *float64 `json:"value"`
	U       *float64 `json:"u"`
	Text    string   `json:"text"`
}

const (
	// recordRows is how many rows a record is drawn with unless asked otherwise,
	// mostRows the most, and mostRecords how many may lie over each other.
	recordRows, mostRows, mostRecords = 1440, 8000, 24
)

func (s *Server) recordRoutes() []route {
	return []route{get("/api/v1/units/{unit}/records/{point}",
		"Gives scope records of a test point: the latest, or the last of the soak, rounds or trial that are named, in that order.", s.getRecords,
		parameter{name: "soak", about: "a soak by number", kind: reflect.Int},
		parameter{name: "round", about: "the label of a round", kind: reflect.String, many: true},
		parameter{name: "trial", about: "a trial by number: the record of each candidate that has one", kind: reflect.Int},
		parameter{name: "latest", about: "true: the latest of all as well, first", kind: reflect.Bool},
		parameter{name: "rows", about: "how many rows each is reduced to, 16 to 8000; 1440 if left out", kind: reflect.Int})}
}

func (s *Server) getRecords(r *http.Request) ([]RecordView, error) {
	values := r.URL.Query()
	rows := recordRows
	if text := values.Get("rows"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 16 || n > mostRows {
			return nil, refusal(http.StatusUnprocessableEntity, "rows %q: a number from 16 to %d", text, mostRows)
		}
		rows = n
	}
	seen, err := s.recordsAsked(r)
	views := []RecordView{}
	for _, record := range seen {
		views = append(views, viewRecord(record, rows))
	}
	return views, err
}

// recordsAsked reads the records that a request names.
func (s *Server) recordsAsked(r *http.Request) ([]logger.SeenRecord, error) {
	ctx, values, point := r.Context(), r.URL.Query(), checks.TestPointName(r.PathValue("point"))
	var seen []logger.SeenRecord
	add := func(record logger.SeenRecord, err error) error {
		seen = append(seen, record)
		return err
	}
	named := values.Has("soak") || values.Has("round") || values.Has("trial")
	if !named || values.Get("latest") == "true" {
		if err := add(s.bench.LatestRecord(ctx, unitIn(r), point)); err != nil {
			return nil, err
		}
	}
	if text := values.Get("soak"); text != "" {
		if err := add(s.soakRecord(ctx, unitIn(r), text, point)); err != nil {
			return nil, err
		}
	}
	rounds, err := s.roundsAsked(r)
	if err != nil {
		return nil, err
	}
	for _, round := range rounds {
		if err := add(s.bench.RoundRecord(ctx, round, point)); err != nil {
			return nil, err
		}
	}
	return seen, nil
}

// roundsAsked are the rounds that a request names, those of its trial last.
func (s *Server) roundsAsked(r *http.Request) ([]book.Round, error) {
	var rounds []book.Round
	for _, label := range r.URL.Query()["round"] {
		round, err := s.bench.Book().Round(r.Context(), unitIn(r), label)
		if err != nil {
			return nil, err
		}
		rounds = append(rounds, round)
	}
	if text := r.URL.Query().Get("trial"); text != "" {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return nil, refusal(http.StatusUnprocessableEntity, "trial %q is no number of a trial", text)
		}
		trial, err := s.trialRounds(r.Context(), unitIn(r), book.TrialID(id))
		if err != nil {
			return nil, err
		}
		rounds = append(rounds, trial...)
	}
	if len(rounds) > mostRecords {
		return nil, refusal(http.StatusUnprocessableEntity, "%d records; at most %d are drawn over each other", len(rounds), mostRecords)
	}
	return rounds, nil
}

// trialRounds are the rounds of a unit's trial.
func (s *Server) trialRounds(ctx context.Context, unit checks.UnitID, id book.TrialID) ([]book.Round, error) {
	rounds, err := s.bench.Book().TrialRounds(ctx, id)
	if err == nil && (len(rounds) == 0 || rounds[0].Unit != unit) {
		err = refusal(http.StatusNotFound, "unit %s has no rounds of a trial %d", unit, id)
	}
	return rounds, err
}

// soakRecord is the last record of a soak of a unit.
func (s *Server) soakRecord(ctx context.Context, unit checks.UnitID, text string, point checks.TestPointName) (logger.SeenRecord, error) {
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return logger.SeenRecord{}, refusal(http.StatusUnprocessableEntity, "soak %q is no number of a soak", text)
	}
	soak, err := s.bench.Book().Soak(ctx, book.SoakID(id))
	if err == nil && soak.Unit != unit {
		err = refusal(http.StatusNotFound, "soak %d is not of unit %s", id, unit)
	}
	if err != nil {
		return logger.SeenRecord{}, err
	}
	return s.bench.SoakRecord(ctx, soak, point)
}

// viewRecord puts a record into the form of the API.
func viewRecord(seen logger.SeenRecord, rows int) RecordView {
	view := RecordView{Soak: int64(seen.Soak), TestPoint: string(seen.TestPoint), Instrument: seen.Instrument, At: moment(seen.At),
		Samples: len(seen.Volts), SampleIntervalS: seen.SampleIntervalSeconds, BeginS: -seen.SyncSeconds,
		Spectrum: viewSpectrum(seen.Spectrum), Figures: []RecordFigureView{}, Findings: ViewFindings(seen.Findings)}
	if seen.Round.ID != 0 {
		view.Round = seen.Round.Label
	}
	if seen.Round.Trial != 0 {
		view.Candidate = number(seen.Round.Candidate)
	}
	view.LowV, view.HighV, view.IntervalS = extremes(seen.Capture, rows)
	if line := seen.Line; line.Lines > 0 {
		view.Line = &LineView{Lines: line.Lines, BeginS: line.StartSeconds, IntervalS: line.IntervalSeconds, V: fine(line.Volts)}
	}
	for _, r := range seen.Readings {
		unit := r.Measure.Unit()
		view.Figures = append(view.Figures, RecordFigureView{Measure: string(r.Measure), Unit: unit.Symbol, Value: number(r.Value),
			U: number(r.StandardUncertainty), Text: checks.Figure(r.Value, r.StandardUncertainty, unit)})
	}
	return view
}

// extremes reduces a record to rows of the lowest and the highest sample, so that
// no peak is lost; a record that is short enough has a row for each sample.
func extremes(record device.Capture, rows int) (low, high Column, intervalS float64) {
	n := len(record.Volts)
	per := max(1, (n+rows-1)/rows)
	for from := 0; from < n; from += per {
		lowest, highest := record.Volts[from], record.Volts[from]
		for _, v := range record.Volts[from:min(from+per, n)] {
			lowest, highest = min(lowest, v), max(highest, v)
		}
		low, high = append(low, rounded(lowest)), append(high, rounded(highest))
	}
	return low, high, float64(per) * record.SampleIntervalSeconds
}

// fine are calculated figures without the digits that say nothing.
func fine(volts []float64) Column {
	column := make(Column, len(volts))
	for i, v := range volts {
		column[i] = rounded(v)
	}
	return column
}
