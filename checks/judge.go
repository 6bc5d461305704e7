package checks

import (
	"cmp"
	"math"
	"slices"
)

// verdict judges all checks for a soak that ends at end. Fail outranks undecided,
// and a pass needs every check to have earned it.
func (j *Judgement) verdict(end stamp) Verdict {
	v := Verdict{
		Outcome: Pass, Unit: j.unit, SheetName: j.sheet.Name, SheetHash: j.sheet.Hash,
		Begin: j.begin.time(), End: end.time(), Planned: (j.planned - j.begin).duration(),
		Reasons: j.wholeReasons(end),
	}
	for _, w := range j.watches {
		result := w.result(end, j.sheet.Soak)
		for i := range result.Reasons {
			result.Reasons[i].Begin = v.Begin
		}
		v.Checks = append(v.Checks, result)
		v.Reasons = append(v.Reasons, result.Reasons...)
	}
	if share := j.share(end); !math.IsNaN(share) {
		v.Evidence = share
	}
	slices.SortStableFunc(v.Reasons, func(a, b Reason) int { return cmp.Compare(a.Kind.rank(), b.Kind.rank()) })
	v.Outcome = worstOf(v.Reasons)
	return v
}

// wholeReasons are the reasons that concern no single check.
func (j *Judgement) wholeReasons(end stamp) []Reason {
	whole := Reason{At: end.time(), Begin: j.begin.time(), Length: (end - j.begin).duration(), Asked: (j.planned - j.begin).duration()}
	var all []Reason
	switch {
	case end <= j.begin:
		whole.Kind = NoLength
		all = append(all, whole)
	case end < j.planned:
		whole.Kind = EndedEarly
		all = append(all, whole)
	}
	if missing := j.cycles.missing(j.sheet.Soak.Cycles); missing != "" {
		all = append(all, Reason{Kind: CyclesMissing, Begin: j.begin.time(), Text: missing})
	}
	if len(j.watches) == 0 {
		all = append(all, Reason{Kind: NothingChecked, Begin: j.begin.time()})
	}
	return all
}

// share is the smallest covered share of all checks.
func (j *Judgement) share(end stamp) float64 {
	smallest := math.NaN()
	for _, w := range j.watches {
		if share := w.share(end); !math.IsNaN(share) && !(share >= smallest) {
			smallest = share
		}
	}
	return smallest
}

// worstOf returns the outcome that reasons of some kind lead to.
func worstOf[R interface{ outcome() Outcome }](reasons []R) Outcome {
	outcome := Pass
	for _, r := range reasons {
		switch r.outcome() {
		case Fail:
			return Fail
		case Undecided:
			outcome = Undecided
		}
	}
	return outcome
}

// result judges the check for a soak that ends at end. It changes nothing.
func (w *Watch) result(end stamp, plan SoakPlan) CheckResult {
	covered, tail, open := w.coveredUntil(end)
	gaps := w.evidence.gaps.clone()
	if open {
		gaps.add(tail, causeSilent)
	}
	list := w.listUntil(end)
	r := CheckResult{
		Check: w.key, Readings: w.figures.n,
		Settling: w.counts.settling, OutOfOrder: w.counts.outOfOrder, Unusable: w.counts.unusable,
		Unreferenced: w.counts.unreferenced, Lost: w.evidence.lost, WithoutUncertainty: w.counts.withoutU,
		LongestGap: gaps.longest.duration(), Gaps: gaps.list(w.key), GapCount: gaps.count, GapTotal: gaps.total.duration(),
		Excursions: list.kept, OutsideCount: list.outside, BorderlineCount: list.borderline,
		OutsideFor: list.outsideFor.duration(), BorderlineFor: list.borderlineFor.duration(),
	}
	if judged := w.judgedUntil(end); judged > 0 {
		r.Evidence = float64(covered) / float64(judged)
	}
	r.Mean, r.Low, r.High = w.figures.summary()
	r.WorstShare = math.Max(w.check.Limit.Share(r.Low), w.check.Limit.Share(r.High))
	r.Reasons = w.reasons(end, r, plan)
	r.Outcome = worstOf(r.Reasons)
	return r
}

// listUntil returns the excursions with those that last, in order of time.
func (w *Watch) listUntil(end stamp) excursionList {
	list := w.list.clone()
	if w.out.lasting() {
		e := w.out.held.excursion(w.key, &w.check.Limit, Outside, 0, true)
		list.add(e, end-w.out.held.from)
	}
	if w.guard.lasting() {
		e := w.guard.held.excursion(w.key, &w.check.Limit, Borderline, 0, true)
		list.add(e, end-w.guard.held.from)
	}
	slices.SortStableFunc(list.kept, func(a, b Excursion) int { return a.From.Compare(b.From) })
	return list
}

// reasons are why the check does not pass, in order of time within each kind.
func (w *Watch) reasons(end stamp, r CheckResult, plan SoakPlan) []Reason {
	var all []Reason
	add := func(reason Reason) {
		reason.Check = w.key
		all = append(all, reason)
	}
	for _, e := range r.Excursions {
		kind := LeftLimit
		if e.State == Borderline {
			kind = InGuardBand
		}
		add(Reason{Kind: kind, Excursion: e})
	}
	if r.Unlisted() > 0 {
		add(Reason{Kind: moreKind(r), Count: r.OutsideCount + r.BorderlineCount, Listed: len(r.Excursions)})
	}
	if at, state, ok := w.cutOff(); ok {
		add(Reason{Kind: CutOff, At: at.time(), State: state})
	}
	if w.refused != "" {
		add(Reason{Kind: Refused, Text: w.refused})
	}
	switch {
	case r.Readings == 0:
		add(Reason{Kind: NeverRead})
	case !(r.Evidence >= plan.EvidenceAtLeast):
		add(Reason{Kind: TooLittleEvidence, Share: r.Evidence, Needed: plan.EvidenceAtLeast})
	}
	long := 0
	for _, g := range r.Gaps {
		if g.Length() > plan.LongestGap && r.Readings > 0 {
			long++
			add(Reason{Kind: LongGap, Gap: g, Asked: plan.LongestGap})
		}
	}
	if long == keepAtMost && r.GapCount > keepAtMost {
		add(Reason{Kind: MoreGaps, Count: r.GapCount, Listed: keepAtMost})
	}
	return all
}

// moreKind tells of which kind the excursions that are not listed may be; since
// the worst are listed, they never decide alone.
func moreKind(r CheckResult) ReasonKind {
	if r.OutsideCount > 0 {
		return MoreOutside
	}
	return MoreBorderline
}

// cutOff returns the first figure that was not within, for less than the hold
// time, when the readings stopped: at a gap or at the end.
func (w *Watch) cutOff() (stamp, State, bool) {
	switch {
	case w.unresolved != nil:
		return w.unresolved.at, w.unresolved.state, true
	case w.out.phase == pending:
		return w.out.held.from, Outside, true
	case w.guard.phase == pending:
		return w.guard.held.from, Borderline, true
	default:
		return 0, "", false
	}
}
