package page_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

// described is the description of the API as a client reads it.
type described struct {
	OpenAPI    string                          `json:"openapi"`
	Paths      map[string]map[string]operation `json:"paths"`
	Components struct {
		Schemas map[string]map[string]any `json:"schemas"`
	} `json:"components"`
}

type operation struct {
	Summary   string              `json:"summary"`
	Responses map[string]response `json:"responses"`
	Body      *response           `json:"requestBody"`
}

type response struct {
	Content map[string]struct {
		Schema map[string]any `json:"schema"`
	} `json:"content"`
}

// schemaOf is the schema of an operation's answer of one status and media type.
func (d described) schemaOf(t testing.TB, method, pattern, status, media string) map[string]any {
	t.Helper()
	operation, known := d.Paths[pattern][strings.ToLower(method)]
	content, has := operation.Responses[status].Content[media]
	if !known || !has || operation.Summary == "" {
		t.Fatalf("%s %s: %s of %s is not described", method, pattern, media, status)
	}
	return content.Schema
}

// fits says where a value does not fit a schema; nothing if it does (JSON Schema
// 2020-12, as far as the description uses it).
func (d described) fits(schema map[string]any, value any, at string) error {
	if len(schema) == 0 {
		return nil // anything
	}
	if ref, ok := schema["$ref"].(string); ok {
		return d.fits(d.Components.Schemas[strings.TrimPrefix(ref, "#/components/schemas/")], value, at)
	}
	if choices, ok := schema["anyOf"].([]any); ok {
		var last error
		for _, choice := range choices {
			if last = d.fits(choice.(map[string]any), value, at); last == nil {
				return nil
			}
		}
		return last
	}
	if !typeFits(schema["type"], value) {
		return fmt.Errorf("%s is %T, not %v", at, value, schema["type"])
	}
	if words, ok := schema["enum"].([]any); ok && !slices.Contains(words, value) {
		return fmt.Errorf("%s is %v, none of %v", at, value, words)
	}
	switch value := value.(type) {
	case string:
		if _, err := time.Parse(time.RFC3339Nano, value); schema["format"] == "date-time" && err != nil {
			return fmt.Errorf("%s: %w", at, err)
		}
	case []any:
		for i, item := range value {
			if err := d.fits(schema["items"].(map[string]any), item, fmt.Sprintf("%s[%d]", at, i)); err != nil {
				return err
			}
		}
	case map[string]any:
		return d.objectFits(schema, value, at)
	}
	return nil
}

// objectFits checks the keys of an object.
func (d described) objectFits(schema, value map[string]any, at string) error {
	properties, _ := schema["properties"].(map[string]any)
	required, _ := schema["required"].([]any)
	for _, key := range required {
		if _, has := value[key.(string)]; !has {
			return fmt.Errorf("%s has no %v", at, key)
		}
	}
	for key, item := range value {
		form, known := properties[key].(map[string]any)
		if !known {
			if form, known = schema["additionalProperties"].(map[string]any); !known {
				return fmt.Errorf("%s has a key %q that is not described", at, key)
			}
		}
		if err := d.fits(form, item, at+"."+key); err != nil {
			return err
		}
	}
	return nil
}

// typeFits compares a value with one type or a list of them; no type fits all.
func typeFits(types, value any) bool {
	switch types := types.(type) {
	case nil:
		return true
	case []any:
		return slices.ContainsFunc(types, func(one any) bool { return typeFits(one, value) })
	}
	switch value := value.(type) {
	case nil:
		return types == "null"
	case bool:
		return types == "boolean"
	case string:
		return types == "string"
	case float64:
		return types == "number" || types == "integer" && value == float64(int64(value))
	case []any:
		return types == "array"
	default:
		return types == "object"
	}
}

// contract are requests whose answers are held against the description, in an
// order in which each finds what it needs. Pattern is the path as it is described.
// A new endpoint needs a row here.
var contract = []struct {
	method, pattern, path, body string
	status                      int
}{
	{"GET", "/healthz", "/healthz", "", 200},
	{"GET", "/readyz", "/readyz", "", 200},
	{"GET", "/api/v1/openapi.json", "/api/v1/openapi.json", "", 200},
	{"POST", "/api/v1/units", "/api/v1/units", `{"unit":"B8-0200","console":"Brambling 8","notes":[{"text":"dim"}]}`, 201},
	{"POST", "/api/v1/units/{unit}/notes", "/api/v1/units/B8-0200/notes", `{"text":"C12 replaced"}`, 201},
	{"GET", "/api/v1/units", "/api/v1/units", "", 200},
	{"GET", "/api/v1/units/{unit}", "/api/v1/units/B8-0200", "", 200},
	{"GET", "/api/v1/units/{unit}/round-plan", "/api/v1/units/B8-0147/round-plan", "", 200},
	{"POST", "/api/v1/units/{unit}/rounds", "/api/v1/units/B8-0147/rounds", `{"label":"as received"}`, 201},
	{"POST", "/api/v1/units/{unit}/rounds/{label}/points/{point}", "/api/v1/units/B8-0147/rounds/as%20received/points/composite", `{}`, 200},
	{"POST", "/api/v1/units/{unit}/rounds/{label}/end", "/api/v1/units/B8-0147/rounds/as%20received/end", `{}`, 200},
	{"POST", "/api/v1/units/{unit}/trials", "/api/v1/units/B8-0147/trials", `{"part":"R12","candidate_unit":"ohms"}`, 201},
	{"POST", "/api/v1/units/{unit}/rounds", "/api/v1/units/B8-0147/rounds", `{"label":"R12 75","trial":1,"candidate":75}`, 201},
	{"POST", "/api/v1/units/{unit}/rounds/{label}/points/{point}", "/api/v1/units/B8-0147/rounds/R12%2075/points/composite", `{}`, 200},
	{"POST", "/api/v1/units/{unit}/trials/{trial}/end", "/api/v1/units/B8-0147/trials/1/end", `{"chosen":75}`, 200},
	{"GET", "/api/v1/units/{unit}/trials/{trial}", "/api/v1/units/B8-0147/trials/1", "", 200},
	{"GET", "/api/v1/units/{unit}/rounds", "/api/v1/units/B8-0147/rounds", "", 200},
	{"GET", "/api/v1/units/{unit}/rounds/{label}", "/api/v1/units/B8-0147/rounds/R12%2075", "", 200},
	{"GET", "/api/v1/units/{unit}/comparison", "/api/v1/units/B8-0147/comparison?before=as+received&after=R12+75", "", 200},
	{"GET", "/api/v1/units/{unit}/records/{point}", "/api/v1/units/B8-0147/records/composite?latest=true&round=as+received&trial=1", "", 200},
	{"POST", "/api/v1/soaks", "/api/v1/soaks", `{"unit":"B8-0147","for_s":3600}`, 201},
	{"GET", "/api/v1/bench", "/api/v1/bench", "", 200},
	{"GET", "/api/v1/events", "/api/v1/events", "", 200},
	{"POST", "/api/v1/units/{unit}/discharge/{point}", "/api/v1/units/B8-0147/discharge/rail-5v", `{}`, 200},
	{"GET", "/api/v1/charts", "/api/v1/charts?soak=1", "", 200},
	{"POST", "/api/v1/units/{unit}/soak/end", "/api/v1/units/B8-0147/soak/end", `{"reason":"seen enough"}`, 202},
	{"GET", "/api/v1/soaks", "/api/v1/soaks", "", 200},
	{"GET", "/api/v1/units/{unit}/report", "/api/v1/units/B8-0147/report", "", 200},
	{"GET", "/api/v1/units/{unit}/history", "/api/v1/units/B8-0147/history", "", 200},
	{"GET", "/api/v1/shipping", "/api/v1/shipping", "", 200},
	{"GET", "/api/v1/line", "/api/v1/line?since=2160h", "", 200},
	{"POST", "/api/v1/units/{unit}/final", "/api/v1/units/B8-0147/final", `{}`, 200},
	{"POST", "/api/v1/units/{unit}/final/steps/{step}", "/api/v1/units/B8-0147/final/steps/picture", `{"answer":"yes"}`, 200},
	{"POST", "/api/v1/units/{unit}/final/steps/{step}/skip", "/api/v1/units/B8-0147/final/steps/sound/skip", `{"reason":"no speaker here"}`, 200},
	{"GET", "/api/v1/units/{unit}/final", "/api/v1/units/B8-0147/final", "", 200},
	{"POST", "/api/v1/units/{unit}/final/end", "/api/v1/units/B8-0147/final/end", `{}`, 200},
	{"POST", "/api/v1/units/{unit}/final", "/api/v1/units/B8-0147/final", `{}`, 200},
	{"POST", "/api/v1/units/{unit}/final/give-up", "/api/v1/units/B8-0147/final/give-up", `{"reason":"lunch"}`, 200},
	{"POST", "/api/v1/login", "/api/v1/login", `{"token":"x"}`, 409},
	{"POST", "/api/v1/logout", "/api/v1/logout", `{}`, 200},
}

// TestAnswersAsDescribed holds real answers of every endpoint against the
// description that the daemon gives of itself.
func TestAnswersAsDescribed(t *testing.T) {
	t.Parallel()
	l := startSimulated(t)
	l.awaitUp(t)
	var d described
	l.ask(t, "/api/v1/openapi.json", &d)
	if d.OpenAPI != "3.1.0" {
		t.Fatalf("OpenAPI %q", d.OpenAPI)
	}
	tried := map[string]bool{}
	for _, row := range contract {
		tried[row.method+" "+row.pattern] = true
		if strings.HasSuffix(row.pattern, "/report") {
			l.awaitVerdict(t)
		}
		if err := l.asDescribed(t, d, row.method, row.pattern, row.path, row.body, row.status); err != nil {
			t.Errorf("%s %s: %v", row.method, row.path, err)
		}
	}
	for pattern, operations := range d.Paths {
		for method := range operations {
			if place := strings.ToUpper(method) + " " + pattern; !tried[place] {
				t.Errorf("%s is described and no row of the contract tries it", place)
			}
		}
	}
}

// awaitUp waits until every instrument answers.
func (l *live) awaitUp(t testing.TB) {
	t.Helper()
	events := l.openEvents(t, "")
	defer events.body.Close()
	for {
		var health map[string]string
		if l.ask(t, "/readyz", &health) == http.StatusOK {
			return
		}
		if _, ok := events.next(); !ok {
			t.Fatal("the stream ended before the instruments were up")
		}
	}
}

// awaitVerdict waits until the first soak has its verdict.
func (l *live) awaitVerdict(t testing.TB) {
	t.Helper()
	for {
		var soaks []page.SoakRecordView
		if l.ask(t, "/api/v1/soaks", &soaks); len(soaks) > 0 && soaks[0].Outcome != "" {
			return
		}
		if t.Context().Err() != nil {
			t.Fatal("there was no verdict")
		}
	}
}

// asDescribed sends a request and holds the answer against its description.
func (l *live) asDescribed(t testing.TB, d described, method, pattern, path, body string, status int) error {
	request, err := http.NewRequestWithContext(t.Context(), method, l.base+path, strings.NewReader(body))
	if err != nil {
		return err
	}
	request.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	media, _, _ := strings.Cut(answer.Header.Get("Content-Type"), ";")
	text, err := firstOf(answer.Body, media)
	if err != nil || answer.StatusCode != status {
		return fmt.Errorf("%s, want %d: %w, %s", answer.Status, status, err, text)
	}
	key := fmt.Sprint(status)
	if status >= 400 {
		key = "default"
	}
	schema := d.schemaOf(t, method, pattern, key, media)
	if !strings.Contains(media, "json") && media != "text/event-stream" {
		return d.fits(schema, string(text), "answer")
	}
	var value any
	if err := json.Unmarshal(text, &value); err != nil {
		return fmt.Errorf("%w in %s", err, text)
	}
	return d.fits(schema, value, "answer")
}

// firstOf is a whole answer, or the first part of one that does not end.
func firstOf(body io.Reader, media string) ([]byte, error) {
	switch media {
	case "application/x-ndjson":
		var line json.RawMessage
		err := json.NewDecoder(body).Decode(&line)
		return line, err
	case "text/event-stream":
		var text []byte
		for !bytes.HasSuffix(text, []byte("}\n\n")) {
			some := make([]byte, 1)
			if _, err := body.Read(some); err != nil {
				return text, err
			}
			text = append(text, some...)
		}
		parts := regexp.MustCompile(`event: (\w+)\nid: \S+\ndata: (.*)\n`).FindSubmatch(text)
		return fmt.Appendf(nil, `{%q: %s}`, parts[1], parts[2]), nil
	default:
		return io.ReadAll(body)
	}
}

// TestEventsAsDescribed holds every kind of event of a soak against the
// description.
func TestEventsAsDescribed(t *testing.T) {
	t.Parallel()
	l := startLive(t)
	var d described
	l.ask(t, "/api/v1/openapi.json", &d)
	schema := d.schemaOf(t, "GET", "/api/v1/events", "200", "text/event-stream")
	events := l.openEvents(t, "")
	l.soak(t)
	l.volts(5.7)
	if err := l.Book().AddNote(t.Context(), "B8-0147", book.Note{Text: "warm"}); err != nil {
		t.Fatal(err)
	}
	if err := l.EndSoak(t.Context(), "B8-0147", "seen enough"); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for !(seen["snapshot"] && seen["change"] && seen["beat"] && seen[string(logger.VerdictGiven)]) {
		e, ok := events.next()
		if !ok {
			t.Fatalf("the stream ended after %v", seen)
		}
		var value map[string]any
		if err := json.Unmarshal(e.data, &value); err != nil {
			t.Fatal(err)
		}
		seen[e.kind] = true
		if kind, is := value["kind"].(string); is {
			seen[kind] = true
		}
		if err := d.fits(schema, map[string]any{e.kind: value}, e.kind); err != nil {
			t.Error(err)
		}
	}
}
