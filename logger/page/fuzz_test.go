package page

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// FuzzBody reads anything as the body of each kind of order, with any content type.
// Either it is refused, with a reason in JSON, or it is an order that can be written
// and read again.
func FuzzBody(f *testing.F) {
	for _, body := range []string{
		`{"unit":"B8-0147","place":"left","for_s":3600}`, `{"unit":"B8-0147","for_s":1e999}`, `{"unit":`, `[]`, `null`, `"`, ``,
		`{"unit":"B8-0147"}{"unit":"B8-0148"}`, `{"no_such_key":1}`, "{\"unit\":\"\x00\"}", `{"reason":"enough"}`, `{"token":"s3cret"}`,
		strings.Repeat("[", 20000), strings.Repeat("x", maxBodyBytes+1), `{"notes":[{"text":"dim"}]}`,
	} {
		f.Add("application/json", body)
	}
	f.Add("text/plain", "{}")
	f.Add("application/json; charset=utf-8", `{"text":"n"}`)
	f.Fuzz(func(t *testing.T, kind, body string) {
		for _, into := range []any{&UnitView{}, &NoteView{}, &SoakRequest{}, &EndRequest{}, &PointRequest{}, &StepRequest{}, &LoginRequest{}, &Nothing{}} {
			request := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(body))
			request.Header.Set("Content-Type", kind)
			answer := httptest.NewRecorder()
			if read(answer, request, into) {
				takenAgain(t, into)
				continue
			}
			var problem Problem
			if err := json.Unmarshal(answer.Body.Bytes(), &problem); err != nil || answer.Code < 400 || answer.Code >= 500 || problem.Error == "" {
				t.Fatalf("%T: refused with %d %q", into, answer.Code, answer.Body)
			}
		}
	})
}

// takenAgain holds that an order that was taken means the same when it is sent again.
func takenAgain(t *testing.T, order any) {
	t.Helper()
	text, err := json.Marshal(order)
	if err != nil {
		t.Fatalf("%T was taken and cannot be written: %v", order, err)
	}
	request := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(string(text)))
	request.Header.Set("Content-Type", "application/json")
	if len(text) <= maxBodyBytes && !read(httptest.NewRecorder(), request, order) {
		t.Fatalf("%T: %s was taken once, and not again", order, text)
	}
}
