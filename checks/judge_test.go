package checks_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
)

// benchSheet asks for a 5 V rail, and for a second rail compared with it, over a
// soak of 100 s.
func benchSheet() checks.Sheet {
	follower := railCheck()
	follower.Limit = band(-0.5, 0.5, 1)
	follower.Against = checks.Reference{TestPoint: "rail-5v"}
	return checks.Sheet{
		Name: "brambling-8", Console: "Brambling 8", VideoSystem: "625/50", Hash: "3f2a",
		TestPoints: []checks.TestPoint{
			{Name: "rail-5v", Checks: []checks.Check{railCheck()}},
			{Name: "rail-5v-far", Checks: []checks.Check{follower}},
		},
		Soak: checks.SoakPlan{Duration: 100 * time.Second, EvidenceAtLeast: 0.95, LongestGap: 3 * time.Second},
	}
}

// oneRail is benchSheet with its first rail alone.
func oneRail() checks.Sheet {
	s := benchSheet()
	s.TestPoints = s.TestPoints[:1]
	return s
}

// every second of a soak reads value, unless change says otherwise; NaN is no
// reading.
func every(seconds int, change func(s int) float64) []checks.Tagged {
	var all []checks.Tagged
	for s := range seconds + 1 {
		if v := change(s); !math.IsNaN(v) {
			all = append(all, checks.Tagged{TestPoint: "rail-5v", Reading: volts(float64(s), v)})
		}
	}
	return all
}

func steady(int) float64 { return 5 }

var nan = math.NaN() // no reading

// between gives value in an interval and 5 V elsewhere.
func between(from, to int, value float64) func(int) float64 {
	return func(s int) float64 {
		if s >= from && s < to {
			return value
		}
		return 5
	}
}

// judged are soaks of one rail with the verdict and the sentences they must get.
// The rules are the sheet's own, the four-way statement is that of ILAC-G8:09/2019,
// 4.2.3; the readings are constructed.
var judged = []struct {
	name     string
	sheet    func(*checks.Sheet)
	readings []checks.Tagged
	losses   []checks.Loss
	end      float64
	want     checks.Outcome
	reasons  []string
}{
	{name: "good", readings: every(100, steady), end: 100, want: checks.Pass},
	{name: "rail sags", readings: every(100, between(64, 84, 4.63)), end: 100, want: checks.Fail, reasons: []string{
		"rail-5v dc-voltage left its limits 02:01:04 to 02:01:24 (4.630 V, low limit 4.75 V, uncertainty 0.020 V)"}},
	{name: "sags to the end", readings: every(100, between(64, 101, 4.63)), end: 100, want: checks.Fail, reasons: []string{
		"rail-5v dc-voltage left its limits 02:01:04 and was still there at the end (4.630 V, low limit 4.75 V, uncertainty 0.020 V)"}},
	{name: "guard band", readings: every(100, between(64, 66, 5.24)), end: 100, want: checks.Undecided, reasons: []string{
		"rail-5v dc-voltage stood in its guard band 02:01:04.000 to 02:01:06.000 (5.240 V, high limit 5.25 V, uncertainty 0.020 V)"}},
	{name: "no reading", end: 100, want: checks.Undecided, reasons: []string{"rail-5v dc-voltage was never read after the settle time"}},
	{name: "long gap", readings: every(100, between(50, 53, nan)), end: 100, want: checks.Undecided, reasons: []string{
		"rail-5v dc-voltage had no fresh reading 02:00:49.000 to 02:00:53.000 (4 s, the sheet allows 3 s)"}},
	{name: "gap as long as allowed", readings: every(100, between(50, 52, nan)), end: 100, want: checks.Pass},
	{name: "silent at the end", readings: every(90, steady), end: 100, want: checks.Undecided, reasons: []string{
		"rail-5v dc-voltage had no fresh reading 02:01:30 to 02:01:40 (10 s, the sheet allows 3 s)",
		"rail-5v dc-voltage was covered by readings for 90 % of the soak, the sheet asks 95 %"}},
	{name: "silent at the begin", readings: every(100, between(0, 10, nan)), end: 100, want: checks.Undecided, reasons: []string{
		"rail-5v dc-voltage had no fresh reading 02:00:00 to 02:00:10 (10 s, the sheet allows 3 s)",
		"rail-5v dc-voltage was covered by readings for 90 % of the soak, the sheet asks 95 %"}},
	{name: "many short gaps", end: 100, want: checks.Undecided,
		readings: every(100, func(s int) float64 {
			if s%20 == 10 || s%20 == 11 {
				return nan
			}
			return 5
		}), reasons: []string{"rail-5v dc-voltage was covered by readings for 85 % of the soak, the sheet asks 95 %"}},
	{name: "lost readings", readings: every(100, steady), end: 100, want: checks.Undecided,
		losses: []checks.Loss{{From: at(20.5), To: at(30.5), Readings: 10, Cause: "readings lost: queue full"}}, reasons: []string{
			"rail-5v dc-voltage has a hole, readings lost: queue full, 02:00:20 to 02:00:30 (10 s, the sheet allows 3 s)",
			"rail-5v dc-voltage was covered by readings for 90 % of the soak, the sheet asks 95 %"}},
	{name: "ended early", readings: every(60, steady), end: 60, want: checks.Undecided, reasons: []string{
		"the soak ended at 02:01:00, after 1 min of 1 min 40 s"}},
	{name: "a microsecond early", readings: every(99, steady), end: 99.999999, want: checks.Undecided, reasons: []string{
		"the soak ended at 02:01:39, after 1 min 39 s of 1 min 40 s"}},
	{name: "no length", readings: every(0, steady), end: 0, want: checks.Undecided, reasons: []string{
		"rail-5v dc-voltage was covered by readings for 0 % of the soak, the sheet asks 95 %", "the soak has no length"}},
	{name: "fail outranks an early end", readings: every(60, between(10, 12, 9)), end: 60, want: checks.Fail, reasons: []string{
		"rail-5v dc-voltage left its limits 02:00:10.000 to 02:00:12.000 (9.000 V, high limit 5.25 V, uncertainty 0.020 V)",
		"the soak ended at 02:01:00, after 1 min of 1 min 40 s"}},
	{name: "nothing checked", sheet: func(s *checks.Sheet) { s.TestPoints = nil }, end: 100, want: checks.Undecided,
		reasons: []string{"the sheet checks nothing"}},
	{name: "refused by the readings", readings: every(100, steady), end: 100, want: checks.Undecided,
		sheet: func(s *checks.Sheet) { s.TestPoints[0].Checks[0].Limit.Guard.Ratio = 20 }, reasons: []string{
			"rail-5v dc-voltage stood in its guard band 02:00:00 and was still there at the end (5.000 V, high limit 5.25 V, uncertainty 0.020 V)",
			"rail-5v dc-voltage can't be decided: the guard bands leave nothing of the limit: 0.4 on either side of 4.75 to 5.25"}},
	{name: "refused by the sheet", readings: every(100, steady), end: 100, want: checks.Undecided,
		sheet: func(s *checks.Sheet) { s.TestPoints[0].Checks[0].Limit.Guard.Rule = "" }, reasons: []string{
			`rail-5v dc-voltage can't be decided: limit.guard.rule: unknown decision rule "": it is "simple" or "guard-banded"`}},
	{name: "outside when the readings stop", readings: every(100, between(99, 101, 9)), end: 100, want: checks.Undecided,
		sheet: func(s *checks.Sheet) { hold(5)(&s.TestPoints[0].Checks[0]) }, reasons: []string{
			"rail-5v dc-voltage was outside at 02:01:39 when the readings stopped, so it can't be told if it stayed"}},
	{name: "outside before a gap", end: 100, want: checks.Undecided,
		sheet: func(s *checks.Sheet) { hold(3)(&s.TestPoints[0].Checks[0]) },
		readings: every(100, func(s int) float64 {
			switch s {
			case 50:
				return 9
			case 51, 52:
				return nan
			default:
				return 5
			}
		}), reasons: []string{
			"rail-5v dc-voltage was outside at 02:00:50 when the readings stopped, so it can't be told if it stayed"}},
	{name: "settling is not judged and no evidence", readings: every(100, between(0, 10, 9)), end: 100, want: checks.Pass,
		sheet: func(s *checks.Sheet) { s.TestPoints[0].Checks[0].Settle = 10 * time.Second }},
	{name: "settle time takes all", readings: every(100, steady), end: 100, want: checks.Undecided,
		sheet:   func(s *checks.Sheet) { s.TestPoints[0].Checks[0].Settle = time.Hour },
		reasons: []string{"rail-5v dc-voltage was never read after the settle time"}},
	{name: "after the planned end nothing counts", readings: every(200, between(101, 200, 9)), end: 200, want: checks.Pass},
}

func TestJudge(t *testing.T) {
	for _, row := range judged {
		t.Run(row.name, func(t *testing.T) {
			sheet := oneRail()
			if row.sheet != nil {
				row.sheet(&sheet)
			}
			v := checks.Judge(sheet, checks.SoakRecord{
				Unit: "B8-0147", Begin: begin, End: at(row.end), Readings: slices.Values(row.readings), Losses: row.losses,
			})
			if got := strings.Join(v.Sentences(nil), "\n"); v.Outcome != row.want || got != strings.Join(row.reasons, "\n") {
				t.Errorf("%s, evidence %g\n%s\nwant %s\n%s", v.Outcome, v.Evidence, got, row.want, strings.Join(row.reasons, "\n"))
			}
		})
	}
}

func TestVerdictFigures(t *testing.T) {
	readings := every(100, between(64, 84, 4.63))
	readings = append(readings, checks.Tagged{TestPoint: "rail-5v", Reading: volts(50, 1)}) // goes back in time
	v := checks.Judge(oneRail(), checks.SoakRecord{Unit: "B8-0147", Begin: begin, End: at(100), Readings: slices.Values(readings)})
	if v.Unit != "B8-0147" || v.SheetHash != "3f2a" || !v.End.Equal(at(100)) || v.Planned != 100*time.Second || v.Evidence != 1 {
		t.Errorf("got %+v", v)
	}
	r := v.Checks[0]
	if r.Readings != 101 || r.OutOfOrder != 1 || r.OutsideCount != 1 || r.OutsideFor != 20*time.Second || r.Low != 4.63 || r.High != 5 {
		t.Errorf("got %+v", r)
	}
	near(t, "mean", r.Mean, (81*5+20*4.63)/101, 1e-12)
	near(t, "worst share", r.WorstShare, (5-4.63)/0.25, 1e-12)
}

// The clock in sentences is the reader's; what was decided is not.
func TestSentenceInAnotherZone(t *testing.T) {
	record := checks.SoakRecord{Unit: "B8-0147", Begin: begin, End: at(100), Readings: slices.Values(every(100, between(64, 84, 4.63)))}
	v := checks.Judge(oneRail(), record)
	got := v.Sentences(time.FixedZone("bench", 5400))
	if len(got) != 1 || !strings.Contains(got[0], "03:31:04 to 03:31:24") {
		t.Errorf("got %q", got)
	}
	record.Begin = begin.In(time.FixedZone("bench", 5400))
	if again := checks.Judge(oneRail(), record); again.Sentences(nil)[0] != v.Sentences(nil)[0] {
		t.Errorf("the zone of the record shows: %q", again.Sentences(nil))
	}
}

// More excursions and gaps than are kept are counted and said.
func TestListsAreBounded(t *testing.T) {
	var readings []checks.Tagged
	for i := range 1000 {
		value := 5.0
		if i%10 == 5 {
			value = 5.3 + float64(i)/1000
		}
		if i%10 != 8 && i%10 != 9 && i/10 != 95 {
			readings = append(readings, checks.Tagged{TestPoint: "rail-5v", Reading: volts(float64(i), value)})
		}
	}
	sheet := oneRail()
	sheet.Soak.LongestGap = 2 * time.Second
	v := checks.Judge(sheet, checks.SoakRecord{Begin: begin, Planned: 1000 * time.Second, End: at(1000), Readings: slices.Values(readings)})
	r := v.Checks[0]
	if r.OutsideCount != 99 || len(r.Excursions) != 16 || r.Unlisted() != 83 || r.GapCount != 99 || len(r.Gaps) != 16 || r.GapTotal != 307*time.Second {
		t.Errorf("%d outside, %d listed; %d gaps, %d listed, %s", r.OutsideCount, len(r.Excursions), r.GapCount, len(r.Gaps), r.GapTotal)
	}
	if last := r.Excursions[15]; last.Worst != 6.295 || !slices.IsSortedFunc(r.Excursions, func(a, b checks.Excursion) int { return a.From.Compare(b.From) }) {
		t.Errorf("the worst is not among them: %+v", last)
	}
	if last := r.Gaps[15]; last.Length() != 13*time.Second || r.LongestGap != last.Length() {
		t.Errorf("the longest is not among them: %+v", last)
	}
	for _, want := range []string{
		"rail-5v dc-voltage: 99 excursions in all, the 16 worst are listed",
		"rail-5v dc-voltage: 99 gaps in all, the 16 longest are listed",
	} {
		if !slices.Contains(v.Sentences(nil), want) {
			t.Errorf("%q is not in %q", want, v.Sentences(nil))
		}
	}
}

func TestUncertaintyNotGiven(t *testing.T) {
	readings := []checks.Tagged{{TestPoint: "rail-5v", Reading: device.Reading{Measure: device.DCVoltage, Value: 6, At: at(1)}}}
	v := checks.Judge(oneRail(), checks.SoakRecord{Begin: begin, Planned: time.Second, End: at(1), Readings: slices.Values(readings)})
	if v.Checks[0].WithoutUncertainty != 1 || !strings.Contains(v.Sentences(nil)[0], "(6 V, high limit 5.25 V, uncertainty not given)") {
		t.Errorf("got %q", v.Sentences(nil))
	}
}
