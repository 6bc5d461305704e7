package logger

import (
	"context"
	"maps"
	"math"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// Snapshot is how the bench stands at one moment, for those who show it.
type Snapshot struct {
	Bench       string
	At          time.Time
	Places      []string // in the order of the bench's file
	Consoles    []string // of the sheets, in their order
	Instruments []device.Status
	// Soaks are under way; Finished are those whose place has not been taken since.
	Soaks    []SoakStatus
	Finished []FinishedSoak
	Book     book.Health
}

// SoakStatus is how a soak stands.
type SoakStatus struct {
	ID      book.SoakID
	Unit    checks.UnitID
	Console checks.ConsoleName
	Place   string
	Sheet   string
	Begin   time.Time
	End     time.Time // planned
	// RemindEvery is how often its sheet wants people told again of what lasts.
	RemindEvery time.Duration
	// Progress is 0 to 1; Evidence the smallest share of any check, NaN while all
	// are settling.
	Progress, Evidence float64
	// SoFar is the verdict if nothing more than what has been happened.
	SoFar  checks.Outcome
	Checks []CheckStatus
	// Findings are those of the latest record of each test point that records are
	// taken of.
	Findings map[checks.TestPointName][]checks.Finding
}

// CheckStatus is how one check of a soak stands, and which instrument serves it.
type CheckStatus struct {
	checks.Standing
	Instrument string
	// Excursions and Gaps are those so far, the worst and the longest of them.
	Excursions []checks.Excursion
	Gaps       []checks.Gap
	// Drift is what is known of the check's drift; nil if it is not watched.
	Drift *checks.DriftStanding
}

// Snapshot asks the owner how the bench stands now.
func (b *Bench) Snapshot(ctx context.Context) (Snapshot, error) {
	snapshot := Snapshot{Bench: b.settings.Bench, Book: b.writer.Health()}
	for _, sheet := range b.settings.Sheets {
		snapshot.Consoles = append(snapshot.Consoles, string(sheet.Console))
	}
	for _, place := range b.settings.Places {
		snapshot.Places = append(snapshot.Places, place.Name)
	}
	for _, instrument := range b.settings.Instruments {
		snapshot.Instruments = append(snapshot.Instruments, b.keepers[instrument.Name].Status())
	}
	err := b.ask(ctx, func() {
		snapshot.At = b.now()
		for _, soak := range b.soaks {
			snapshot.Soaks = append(snapshot.Soaks, soak.status(snapshot.At))
		}
		snapshot.Finished = append(snapshot.Finished, b.finished...)
	})
	return snapshot, err
}

// status is how a soak stands now.
func (s *liveSoak) status(now time.Time) SoakStatus {
	status := SoakStatus{RemindEvery: s.sheet.Soak.RemindEvery, ID: s.id, Unit: s.unit, Console: s.sheet.Console, Place: s.place.Name, Sheet: s.sheet.Name,
		Begin: s.begin, End: s.judgement.PlannedEnd(), Progress: s.judgement.Progress(now), Evidence: s.judgement.Evidence(now), Findings: maps.Clone(s.findings)}
	verdict := s.judgement.End(now)
	status.SoFar = soFar(verdict)
	for i, standing := range s.judgement.Standings() {
		status.Checks = append(status.Checks, CheckStatus{Standing: standing,
			Instrument: s.instrumentAt(standing.Check.TestPoint), Excursions: verdict.Checks[i].Excursions,
			Gaps: verdict.Checks[i].Gaps, Drift: s.driftOf(standing.Check, now)})
	}
	return status
}

// driftOf is how the drift of a check stands; nil if it is not watched.
func (s *liveSoak) driftOf(check checks.CheckKey, now time.Time) *checks.DriftStanding {
	watch := s.drifts[check]
	if watch == nil {
		return nil
	}
	standing := watch.Standing(now)
	return &standing
}

// soFar is what the verdict would be were the time up: that it is not up yet
// counts for nothing.
func soFar(verdict checks.Verdict) checks.Outcome {
	outcome := checks.Pass
	for _, reason := range verdict.Reasons {
		switch reason.Kind {
		case checks.EndedEarly, checks.NoLength:
		case checks.LeftLimit, checks.MoreOutside:
			return checks.Fail
		default:
			outcome = checks.Undecided
		}
	}
	return outcome
}

func (s *liveSoak) instrumentAt(point checks.TestPointName) string {
	for _, connection := range s.place.Connections {
		if connection.TestPoint == point {
			return connection.Instrument
		}
	}
	return ""
}

// Worst returns the check that stands worst, for a line that has room for one:
// silent before outside before the highest share of its limit.
func (s SoakStatus) Worst() (CheckStatus, bool) {
	if len(s.Checks) == 0 {
		return CheckStatus{}, false
	}
	worst := s.Checks[0]
	for _, check := range s.Checks[1:] {
		if check.badness() > worst.badness() {
			worst = check
		}
	}
	return worst, true
}

// badness orders checks from the best to the worst.
func (c CheckStatus) badness() float64 {
	switch c.State {
	case checks.Silent:
		return math.Inf(1)
	case checks.Settling:
		return -1
	}
	share := c.Limit.Share(c.Figure)
	if math.IsNaN(share) {
		share = 0
	}
	switch c.State {
	case checks.Outside:
		return 2000 + share
	case checks.Borderline:
		return 1000 + share
	default:
		return share
	}
}
