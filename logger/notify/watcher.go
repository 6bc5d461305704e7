package notify

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"time"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/device"
	"soakline/logger"
)

// Bench is what a Watcher asks of the running bench.
type Bench interface {
	Follow() (<-chan logger.Happening, func())
	Snapshot(context.Context) (logger.Snapshot, error)
}

// Watcher makes notices out of what happens at a bench and hands them to couriers.
type Watcher struct {
	bench    Bench
	settings Settings
	// free returns how many bytes are left beside the book.
	free func() (uint64, error)
	take func(Notice)
	log  *slog.Logger

	lasting map[string]*lasting
	silent  map[checks.UnitID]map[checks.CheckKey]bool
}

// lasting is something that has been told and is not over. Excursions, silences and
// the rest are kept apart by their key.
type lasting struct {
	notice Notice
	// remind is how often it is told again, 0 never; due is when next. A silence is
	// first told at due.
	remind time.Duration
	due    time.Time
	told   bool
}

const (
	// silenceGrace is how long readings may be missing before anybody is told:
	// checks of one instrument fall silent one after another, and are told together.
	silenceGrace = 3 * time.Second
	// lookEvery is how often the room on the disk is looked at.
	lookEvery = time.Minute
)

// NewWatcher returns a watcher; Run starts it. free may be nil where nobody can tell
// how much room there is.
func NewWatcher(bench Bench, settings Settings, free func() (uint64, error), take func(Notice), log *slog.Logger) *Watcher {
	return &Watcher{bench: bench, settings: settings, free: free, take: take, log: log,
		lasting: map[string]*lasting{}, silent: map[checks.UnitID]map[checks.CheckKey]bool{}}
}

// Run watches until the context ends.
func (w *Watcher) Run(ctx context.Context) error {
	happenings, stop := w.bench.Follow()
	defer stop()
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	remind := time.NewTicker(time.Second)
	defer remind.Stop()
	w.lookAtDisk(ctx)
	for {
		select {
		case <-ctx.Done():
			w.drain(ctx, happenings)
			return nil
		case h := <-happenings:
			w.see(ctx, h)
		case <-look.C:
			w.lookAtDisk(ctx)
		case <-remind.C:
			w.remind(time.Now())
		}
	}
}

// drain sees what happened before the end: the verdict of a soak that ended the
// program must be told.
func (w *Watcher) drain(ctx context.Context, happenings <-chan logger.Happening) {
	for {
		select {
		case h := <-happenings:
			w.see(context.WithoutCancel(ctx), h)
		default:
			return
		}
	}
}

// see makes of a happening what people should know.
func (w *Watcher) see(ctx context.Context, h logger.Happening) {
	switch h.Kind {
	case logger.ExcursionBegan:
		if h.Excursion.State == checks.Outside {
			w.begin(ctx, excursionKey(h), h, Notice{Kind: Excursion, Since: h.Excursion.From, Text: begunSentence(h)}, 0)
		}
	case logger.ExcursionOver:
		w.end(excursionKey(h), h.At, overSentence(h))
	case logger.StateChange:
		w.silence(ctx, h)
	case logger.SoakOver:
		w.forget(h.Unit)
	case logger.VerdictGiven:
		w.verdict(ctx, h)
	case logger.DischargeStand:
		w.discharge(ctx, h)
	}
}

func excursionKey(h logger.Happening) string { return fmt.Sprintf("excursion %d %s", h.Soak, h.Check) }

// begin tells of something that may last; delay puts it off, so that what is over by
// then is never told.
func (w *Watcher) begin(ctx context.Context, key string, h logger.Happening, n Notice, delay time.Duration) {
	if w.lasting[key] != nil {
		return
	}
	n.Stage, n.At, n.Unit, n.Soak = Began, h.At, h.Unit, h.Soak
	n.TestPoint, n.Measure, n.Instrument = h.Check.TestPoint, h.Check.Measure, h.Instrument
	if n.Since.IsZero() {
		n.Since = h.At
	}
	l := &lasting{notice: n}
	l.remind = w.complete(ctx, &l.notice)
	w.lasting[key] = l
	if delay > 0 {
		l.due = h.At.Add(delay)
		return
	}
	w.tell(l)
}

// complete fills in what only the bench knows, and returns how often the unit's sheet
// wants people reminded.
func (w *Watcher) complete(ctx context.Context, n *Notice) (remind time.Duration) {
	snapshot, err := w.bench.Snapshot(ctx)
	if err != nil {
		w.log.Warn("a notice is told without what the bench knows", "notice", n.Text, "error", err)
	}
	n.Bench = snapshot.Bench
	for _, soak := range snapshot.Soaks {
		if soak.Unit == n.Unit {
			n.Console, remind = soak.Console, soak.RemindEvery
		}
	}
	*n = n.named()
	return remind
}

func (w *Watcher) tell(l *lasting) {
	l.told = true
	l.due = time.Time{}
	if l.remind > 0 {
		l.due = l.notice.At.Add(l.remind)
	}
	w.take(l.notice)
}

// end tells that something is over, if it was told.
func (w *Watcher) end(key string, at time.Time, text string) {
	l := w.lasting[key]
	delete(w.lasting, key)
	if l == nil || !l.told {
		return
	}
	n := l.notice
	n.Stage, n.At, n.Text = Over, at, text
	w.take(n)
}

// forget drops what lasts of a unit whose soak is over: its verdict says the rest.
func (w *Watcher) forget(unit checks.UnitID) {
	delete(w.silent, unit)
	for key, l := range w.lasting {
		if l.notice.Unit == unit && l.notice.Kind != StoredCharge {
			delete(w.lasting, key)
		}
	}
}

// remind tells again what lasts, and for the first time what has lasted long enough.
func (w *Watcher) remind(now time.Time) {
	for key, l := range w.lasting {
		if l.due.IsZero() || now.Before(l.due) {
			continue
		}
		if strings.HasPrefix(key, "silence ") {
			l.notice.Text = w.silenceSentence(l.notice.Unit, l.notice.Since)
		}
		if l.told {
			l.notice.Stage = Still
		}
		l.notice.At = now
		w.tell(l)
	}
}

// silence gathers the checks of a unit that have no fresh reading.
func (w *Watcher) silence(ctx context.Context, h logger.Happening) {
	key := "silence " + string(h.Unit)
	silent := w.silent[h.Unit]
	switch {
	case h.To == checks.Silent:
		if silent == nil {
			silent = map[checks.CheckKey]bool{}
			w.silent[h.Unit] = silent
		}
		silent[h.Check] = true
		unnamed := h
		unnamed.Check = checks.CheckKey{}
		w.begin(ctx, key, unnamed, Notice{Kind: Silence}, silenceGrace)
		if l := w.lasting[key]; !l.told {
			l.notice.Text = w.silenceSentence(h.Unit, l.notice.Since)
		}
	case h.From == checks.Silent:
		delete(silent, h.Check)
		if l := w.lasting[key]; len(silent) == 0 && l != nil {
			delete(w.silent, h.Unit)
			w.end(key, h.At, fmt.Sprintf("%s: every test point is read again, after %s without.", h.Unit, checks.Duration(h.At.Sub(l.notice.Since))))
		}
	}
}

func (w *Watcher) silenceSentence(unit checks.UnitID, since time.Time) string {
	var points []string
	for check := range w.silent[unit] {
		if name := string(check.TestPoint); !slices.Contains(points, name) {
			points = append(points, name)
		}
	}
	slices.Sort(points)
	return fmt.Sprintf("%s: no fresh reading of %s since %s. Look at the instrument and its lead; the time is missing from the evidence.",
		unit, strings.Join(points, ", "), clock(since))
}

// verdict tells of a soak that was judged.
func (w *Watcher) verdict(ctx context.Context, h logger.Happening) {
	v := h.Finished.Verdict
	text := fmt.Sprintf("%s: %s after %s, evidence %s.", h.Unit, v.Outcome, checks.Duration(v.End.Sub(v.Begin)), checks.Figure(v.Evidence, 0, device.Ratio))
	if len(v.Reasons) > 0 {
		text += " First reason: " + v.Reasons[0].Sentence(time.Local) + "."
	}
	n := Notice{Kind: Verdict, Stage: Began, At: h.At, Since: h.At, Unit: h.Unit, Soak: h.Soak, Verdict: v.Outcome, Text: text}
	w.complete(ctx, &n)
	n.Console = h.Finished.Console
	w.take(n)
}

// discharge tells of stored charge that comes back.
func (w *Watcher) discharge(ctx context.Context, h logger.Happening) {
	key := fmt.Sprintf("stored charge %s %s", h.Unit, h.Check)
	if h.Discharge.Phase == reservoir.Rising {
		w.begin(ctx, key, h, Notice{Kind: StoredCharge, Text: fmt.Sprintf(
			"%s: the voltage at %s is coming back by itself: %s. Keep hands out; discharge again and measure again.",
			h.Unit, h.Check.TestPoint, checks.Figure(h.Discharge.Volts, 0, h.Check.Measure.Unit()))}, 0)
		return
	}
	if h.Discharge.Phase != reservoir.NotKnown {
		delete(w.lasting, key) // below again, or watched to its end: the person at the bench sees it
	}
}

// lookAtDisk tells once that room is short, and once that there is room again.
func (w *Watcher) lookAtDisk(ctx context.Context) {
	if w.free == nil || w.settings.DiskLowBytes == 0 {
		return
	}
	free, err := w.free()
	if err != nil {
		w.log.Warn("how much room the disk has cannot be told", "error", err)
		return
	}
	const key = "disk"
	h := logger.Happening{At: time.Now()}
	switch low := w.settings.DiskLowBytes; {
	case free < low:
		w.begin(ctx, key, h, Notice{Kind: DiskLow, Text: fmt.Sprintf(
			"The disk of the book has %d MB left. Make room before it is full: readings are held in memory then, and lost when that is full too.", free/1e6)}, 0)
	case free > low+low/5:
		w.end(key, h.At, fmt.Sprintf("The disk of the book has room again: %d MB.", free/1e6))
	}
}

// begunSentence tells of a check that has left its limits.
func begunSentence(h logger.Happening) string {
	e := h.Excursion
	unit := e.Check.Measure.Unit()
	return fmt.Sprintf("%s: %s left its limits at %s (%s, %s limit %s). The soak goes on, and its verdict will be fail.",
		h.Unit, e.Check, clock(e.From), checks.Figure(e.Worst, e.WorstU, unit), e.Edge, checks.Figure(e.Limit, 0, unit))
}

// overSentence tells that it is back.
func overSentence(h logger.Happening) string {
	e := h.Excursion
	unit := e.Check.Measure.Unit()
	return fmt.Sprintf("%s: %s is back within its limits since %s, after %s outside (worst %s, %s limit %s).",
		h.Unit, e.Check, clock(e.To), checks.Duration(e.To.Sub(e.From)), checks.Figure(e.Worst, e.WorstU, unit), e.Edge, checks.Figure(e.Limit, 0, unit))
}

// clock is a time as the bench's clock shows it.
func clock(t time.Time) string { return t.Local().Format("15:04:05") }

// TrialNotice is what is sent by hand to see whether it arrives.
func TrialNotice(bench string, at time.Time) Notice {
	return Notice{Kind: Trial, Stage: Began, At: at, Since: at, Bench: bench,
		Text: fmt.Sprintf("A trial notice from bench %s: if you read this, notices arrive.", bench)}.named()
}
