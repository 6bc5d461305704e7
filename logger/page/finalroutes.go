package page

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"reflect"
	"strings"
	"time"

	"soakline/checks"
	"soakline/logger"
)

// FinalRequest asks for a final test to begin or to go on; Anew is why the one under
// way is given up for another.
type FinalRequest struct {
	Place string `json:"place,omitempty"`
	Anew  string `json:"anew,omitempty"`
}

// StepRequest asks for a step to be taken. Answer is the person's to a question.
type StepRequest struct {
	Answer checks.Answer `json:"answer,omitempty"`
	Note   string        `json:"note,omitempty"`
}

// StepProgressView is a line of what taking a step streams: how it goes, and in the
// last line how the test then stands, or what went wrong.
type StepProgressView struct {
	Step    string     `json:"step"`
	Text    string     `json:"text,omitempty"`
	LeftS   float64    `json:"left_s,omitempty"`
	Final   *FinalView `json:"final,omitempty"`
	Trouble string     `json:"error,omitempty"`
}

// finalRoutes are the final test's: begin it or go on with it (POST …/final), see how
// it stands (GET …/final), take a step (POST …/final/steps/{step}, which streams; a
// client that goes away stops the step, and the test stands where it was), skip one
// with a reason, end it, or give it up with a reason. A step that was taken can be
// taken again until the test has ended.
func (s *Server) finalRoutes() []route {
	const base = "/api/v1/units/{unit}/final"
	return []route{
		get(base, "Shows the final test of a unit that is under way, else the latest.", s.getFinal),
		post(base, "Begins the final test of a unit, or goes on with the one that is under way.", http.StatusOK, s.beginFinal),
		{method: http.MethodPost, path: base + "/steps/{step}",
			about: "Takes a step, for the first time or again: lines of JSON say how it goes, the last one how the test then stands.",
			takes: reflect.TypeFor[StepRequest](), gives: reflect.TypeFor[StepProgressView](), media: "application/x-ndjson",
			status: http.StatusOK, serve: s.takeStep},
		post(base+"/steps/{step}/skip", "Leaves a step out, for a reason in words.", http.StatusOK, s.skipStep),
		post(base+"/end", "Ends a final test that has all its steps, and gives its verdict.", http.StatusOK, s.endFinal),
		post(base+"/give-up", "Ends a final test before its last step, for a reason in words.", http.StatusOK, s.giveUpFinal),
	}
}

func (s *Server) getFinal(r *http.Request) (FinalView, error) {
	return viewed(s.bench.FinalStatus(r.Context(), unitIn(r)))
}

// viewed is a status in the form of the API.
func viewed(status logger.FinalStatus, err error) (FinalView, error) {
	if err != nil {
		return FinalView{}, err
	}
	return ViewFinal(status), nil
}

func (s *Server) beginFinal(r *http.Request, request FinalRequest) (FinalView, error) {
	return viewed(s.bench.BeginFinal(r.Context(), logger.FinalRequest{Unit: unitIn(r), Place: request.Place, Anew: request.Anew}))
}

func (s *Server) skipStep(r *http.Request, request EndRequest) (FinalView, error) {
	return viewed(s.bench.SkipStep(r.Context(), unitIn(r), checks.StepName(r.PathValue("step")), request.Reason))
}

func (s *Server) endFinal(r *http.Request, _ Nothing) (FinalView, error) {
	return viewed(s.bench.EndFinal(r.Context(), unitIn(r)))
}

func (s *Server) giveUpFinal(r *http.Request, request EndRequest) (FinalView, error) {
	if strings.TrimSpace(request.Reason) == "" {
		return FinalView{}, refusal(http.StatusUnprocessableEntity, "reason: say why the final test is given up")
	}
	return viewed(s.bench.GiveUpFinal(r.Context(), unitIn(r), request.Reason))
}

// takeStep streams how a step goes for as long as the client reads.
func (s *Server) takeStep(w http.ResponseWriter, r *http.Request) {
	var request StepRequest
	if !read(w, r, &request) {
		return
	}
	step := r.PathValue("step")
	ctx, stop := context.WithCancel(r.Context())
	defer stop()
	stream := &stepStream{w: w, control: http.NewResponseController(w), encoder: json.NewEncoder(w)}
	status, err := s.bench.TakeStep(ctx, logger.StepRequest{Unit: unitIn(r), Step: checks.StepName(step), Answer: request.Answer, Note: request.Note},
		func(p logger.StepProgress) {
			if !stream.send(StepProgressView{Step: step, Text: p.Text, LeftS: p.Left.Seconds()}) {
				stop() // nobody reads any more
			}
		})
	switch {
	case err != nil && !stream.began:
		fail(w, err)
	case err != nil && !errors.Is(err, logger.ErrStopped):
		stream.send(StepProgressView{Step: step, Trouble: err.Error()})
	case err == nil:
		view := ViewFinal(status)
		stream.send(StepProgressView{Step: step, Final: &view})
	}
}

// stepStream sends lines of JSON, not more often than a person can read but the last.
type stepStream struct {
	w       http.ResponseWriter
	control *http.ResponseController
	encoder *json.Encoder
	began   bool
	last    time.Time
}

// streamEvery is the least time between two lines that say how it goes.
const streamEvery = 200 * time.Millisecond

func (s *stepStream) send(view StepProgressView) bool {
	if view.Final == nil && view.Trouble == "" && time.Since(s.last) < streamEvery {
		return true
	}
	if !s.began {
		s.w.Header().Set("Content-Type", "application/x-ndjson")
		s.w.Header().Set("Cache-Control", "no-store")
		s.began = true
	}
	s.last = time.Now()
	return errors.Join(patient(s.w, requestTimeout), s.encoder.Encode(view), s.control.Flush()) == nil
}
