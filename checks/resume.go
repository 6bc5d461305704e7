package checks

// Resume returns the judgement of a soak as it stood after everything that was
// recorded, so that it can go on.
func Resume(sheet Sheet, record SoakRecord) *Judgement {
	j := NewJudgement(sheet, record.Unit, record.Begin, record.Planned)
	losses, end := record.Losses, stampOf(record.End)
	if record.Readings != nil {
		for tagged := range record.Readings {
			for len(losses) > 0 && stampOf(losses[0].To) <= stampOf(tagged.Reading.At) {
				j.Lost(losses[0])
				losses = losses[1:]
			}
			if stampOf(tagged.Reading.At) <= end {
				j.Observe(tagged.TestPoint, tagged.Reading)
			}
		}
	}
	for _, loss := range losses {
		j.Lost(loss)
	}
	return j
}
