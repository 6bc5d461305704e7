package page_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"soakline/logger/page"
)

// The history of a unit over HTTP: its figures, null where nothing is known, and
// requests that make no sense.
func TestHistoryOverHTTP(t *testing.T) {
	server := served(t)
	status, body := send(t, server, http.MethodGet, "/api/v1/units/B8-0147/history", "")
	var view page.HistoryView
	if err := json.Unmarshal(body, &view); err != nil || status != http.StatusOK {
		t.Fatalf("%d %s: %v", status, body, err)
	}
	if len(view.Courses) != 1 || view.Sheet != "brambling-8" || view.Wear == nil {
		t.Fatalf("%s", body)
	}
	course := view.Courses[0]
	if len(course.Figures) != 2 || course.Figures[0].Round != "as received" || *course.Figures[0].Value != 0.842 || *course.Low != 0.95 ||
		course.Trend.Text != "too few figures for a trend (2 of 4)" || course.Trend.Outlook != "not known" || course.Trend.PerMonth != nil {
		t.Errorf("%s", body)
	}
	if text := string(body); !strings.Contains(text, `"per_month":null`) || !strings.Contains(text, `"reached_at":null`) {
		t.Errorf("what is not known is not null: %s", text)
	}
	for path, want := range map[string]int{
		"/api/v1/units/B8-0148/history":                                   http.StatusNotFound,
		"/api/v1/units/B8-0147/history?since=noon":                        http.StatusBadRequest,
		"/api/v1/units/B8-0147/history?test_point=attic":                  http.StatusOK,
		"/api/v1/units/B8-0147/history?since=2027-01-01T00:00:00%2B01:00": http.StatusOK,
	} {
		status, body := send(t, server, http.MethodGet, path, "")
		if status != want || want == http.StatusOK && !strings.Contains(string(body), `"courses":[]`) {
			t.Errorf("%s: %d %s", path, status, body)
		}
	}
}
