package checks

import (
	"time"

	"soakline/checks/drift"
	"soakline/device"
)

// DriftWatch follows one check of one unit for drift, reading by reading, in constant
// memory. What it finds depends on the readings alone, so that a replay finds the
// same. It is not for use by several goroutines at once.
type DriftWatch struct {
	key     CheckKey
	limit   Limit
	monitor *drift.Monitor
	// standing is kept for standingFor: working it out takes about 0.1 ms.
	standing DriftStanding
	asked    time.Time
}

// standingFor is how long the answer to Standing is good.
const standingFor = time.Second

// NewDriftWatch returns the drift watch of a check; nil if its plan has none. It
// fails where Validate would.
func NewDriftWatch(check Check, key CheckKey) (*DriftWatch, error) {
	if check.Drift == nil {
		return nil, nil
	}
	monitor, err := drift.NewMonitor(check.driftOptions())
	if err != nil {
		return nil, err
	}
	return &DriftWatch{key: key, limit: check.Limit, monitor: monitor}, nil
}

// NewDriftWatches returns the drift watches of a sheet, by check.
func NewDriftWatches(sheet Sheet) (map[CheckKey]*DriftWatch, error) {
	all := map[CheckKey]*DriftWatch{}
	for _, point := range sheet.TestPoints {
		for _, check := range point.Checks {
			key := CheckKey{TestPoint: point.Name, Measure: check.Measure}
			watch, err := NewDriftWatch(check, key)
			if err != nil {
				return nil, &PathError{Path: key.String(), Err: err}
			}
			if watch != nil {
				all[key] = watch
			}
		}
	}
	return all, nil
}

// Observe takes a reading; it returns the alarm that the reading raised, if it did.
// Each kind is raised once in a soak.
func (w *DriftWatch) Observe(r device.Reading) []drift.Alarm {
	event := w.monitor.Observe(r.At, r.Value)
	if event&(drift.RaisedEWMA|drift.RaisedCUSUM|drift.RaisedTrend) == 0 {
		return nil
	}
	w.asked = time.Time{}
	var raised []drift.Alarm
	for _, alarm := range w.monitor.Alarms() {
		if alarm.Kind == drift.EWMAAlarm && event&drift.RaisedEWMA != 0 || alarm.Kind == drift.CUSUMAlarm && event&drift.RaisedCUSUM != 0 ||
			alarm.Kind == drift.TrendAlarm && event&drift.RaisedTrend != 0 {
			raised = append(raised, alarm)
		}
	}
	return raised
}

// Alarms returns those raised so far.
func (w *DriftWatch) Alarms() []drift.Alarm { return w.monitor.Alarms() }

// Standing tells what is known. It is worked out at most once a second of now.
func (w *DriftWatch) Standing(now time.Time) DriftStanding {
	if since := now.Sub(w.asked); since >= 0 && since < standingFor && !w.asked.IsZero() {
		return w.standing
	}
	w.asked = now
	w.standing = w.workOut()
	return w.standing
}
