package page

import "soakline/checks/audio"

// AudioChangeView is how one figure of an audio output differs between two rounds, in
// dB, with one standard uncertainty. What could not be measured is null.
type AudioChangeView struct {
	TestPoint string   `json:"test_point"`
	Figure    string   `json:"figure"`
	Before    *float64 `json:"before_dbv"`
	After     *float64 `json:"after_dbv"`
	Change    *float64 `json:"change_db"`
	ChangeU   *float64 `json:"change_u_db"`
	// Below is how far the louder of the two is below the reference; null for the
	// level itself.
	Below     *float64 `json:"below_db"`
	Reference string   `json:"reference"`
	Told      bool     `json:"told"`
	Matters   bool     `json:"matters"`
	Text      string   `json:"text"`
}

// ViewAudioChanges puts changes into the form of the API.
func ViewAudioChanges(changes []audio.Change) []AudioChangeView {
	views := []AudioChangeView{}
	for _, c := range changes {
		views = append(views, AudioChangeView{TestPoint: c.Channel, Figure: c.Name, Before: number(c.Before.DBV().Value),
			After: number(c.After.DBV().Value), Change: number(c.Decibels.Value), ChangeU: number(c.Decibels.U),
			Below: number(c.BelowDecibels), Reference: c.Reference, Told: c.Resolved, Matters: c.Matters, Text: c.Text})
	}
	return views
}
