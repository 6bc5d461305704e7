package checks

// Resume returns the judgement of a soak as it stood after everything that was
// recorded, so that it can go on.
func Resume(sheet Sheet, record SoakRecord) *Judgement {
	j := NewJudgement(sheet, record.Unit, record.Begin, record.Planned)
	r := replay{judgement: j, losses: record.Losses, pauses: record.Pauses}
	end := stampOf(record.End)
	if record.Readings != nil {
		for tagged := range record.Readings {
			at := stampOf(tagged.Reading.At)
			r.upTo(at)
			if at <= end {
				j.Observe(tagged.TestPoint, tagged.Reading)
			}
		}
	}
	r.upTo(never)
	return j
}

// replay tells a judgement what happened beside the readings, in time.
type replay struct {
	judgement *Judgement
	losses    []Loss
	pauses    []Pause
	off       bool // the first of the pauses has begun
}

// upTo tells what came before a reading at a moment.
func (r *replay) upTo(at stamp) {
	for len(r.losses) > 0 && stampOf(r.losses[0].To) <= at {
		r.switched(stampOf(r.losses[0].To))
		r.judgement.Lost(r.losses[0])
		r.losses = r.losses[1:]
	}
	r.switched(at)
}

// switched tells the pauses that began or ended up to a moment.
func (r *replay) switched(at stamp) {
	for len(r.pauses) > 0 {
		pause := r.pauses[0]
		if !r.off {
			if stampOf(pause.From) > at {
				return
			}
			r.judgement.Pause(pause)
			r.off = true
		}
		if pause.To.IsZero() || stampOf(pause.To) > at {
			return
		}
		r.judgement.Continue(pause)
		r.pauses, r.off = r.pauses[1:], false
	}
}
