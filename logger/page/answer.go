package page

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"

	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/report"
)

// Problem is the JSON of a refused request.
type Problem struct {
	Error string `json:"error"`
}

// refused is an error that has its own status.
type refused struct {
	status int
	text   string
}

// Error says why.
func (r refused) Error() string { return r.text }

// refusal is the error of a request that cannot be served.
func refusal(status int, format string, args ...any) error {
	return refused{status, fmt.Sprintf(format, args...)}
}

// read decodes the body of a request strictly. A browser's form cannot send this
// content type without asking first, so no other page can make one.
func read(w http.ResponseWriter, r *http.Request, into any) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		refuse(w, http.StatusUnsupportedMediaType, "send application/json")
		return false
	}
	decoder := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBodyBytes))
	decoder.DisallowUnknownFields()
	err = decoder.Decode(into)
	if err == nil && decoder.More() {
		err = errors.New("something follows it")
	}
	if tooLong, ok := errors.AsType[*http.MaxBytesError](err); ok {
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("the request is longer than %d bytes", tooLong.Limit))
		return false
	}
	if err != nil {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("the request's JSON: %v", err))
		return false
	}
	return true
}

// statuses are what the errors of bench and book come to, the first that fits.
var statuses = []struct {
	err    error
	status int
}{
	{book.ErrNotFound, http.StatusNotFound},
	{book.ErrExists, http.StatusConflict}, {logger.ErrNoPlace, http.StatusConflict},
	{logger.ErrNotSoaks, http.StatusConflict}, {logger.ErrRoundEnded, http.StatusConflict},
	{logger.ErrNoSheet, http.StatusUnprocessableEntity}, {logger.ErrNoCriteria, http.StatusUnprocessableEntity},
	{logger.ErrNoDischarge, http.StatusUnprocessableEntity}, {book.ErrInvalid, http.StatusUnprocessableEntity},
	{report.ErrNothingJudged, http.StatusConflict},
	{logger.ErrNoFinal, http.StatusUnprocessableEntity}, {logger.ErrNoAnswer, http.StatusUnprocessableEntity},
	{logger.ErrSheetChanged, http.StatusUnprocessableEntity}, {logger.ErrOtherBench, http.StatusConflict}, {logger.ErrStepsLeft, http.StatusConflict},
	{logger.ErrNotDue, http.StatusConflict}, {logger.ErrTaking, http.StatusConflict}, {logger.ErrStillSoaks, http.StatusConflict},
	{logger.ErrNoClock, http.StatusServiceUnavailable}, {logger.ErrStopped, http.StatusServiceUnavailable}, {context.Canceled, http.StatusServiceUnavailable},
}

// fail turns an error of the bench or the book into a status.
func fail(w http.ResponseWriter, err error) {
	if own, ok := errors.AsType[refused](err); ok {
		refuse(w, own.status, err.Error())
		return
	}
	for _, s := range statuses {
		if errors.Is(err, s.err) {
			refuse(w, s.status, err.Error())
			return
		}
	}
	refuse(w, http.StatusInternalServerError, err.Error())
}

func refuse(w http.ResponseWriter, status int, why string) {
	answer(w, status, Problem{Error: why})
}

// give answers body, or says why not; long answers are compressed for whoever
// takes it.
func give(w http.ResponseWriter, r *http.Request, status int, body any, err error) {
	if err != nil {
		fail(w, err)
		return
	}
	text, err := json.Marshal(body)
	if err != nil {
		fail(w, fmt.Errorf("write the answer as JSON: %w", err))
		return
	}
	w.Header().Set("Content-Type", jsonType)
	w.Header().Set("Cache-Control", "no-store")
	send(w, r, status, append(text, '\n'))
}

const jsonType = "application/json; charset=utf-8"

// answer writes JSON. The client may be gone; there is nobody to tell.
func answer(w http.ResponseWriter, status int, body any) {
	text, err := json.Marshal(body)
	if err != nil {
		status, text = http.StatusInternalServerError, []byte(`{"error":"the answer could not be written as JSON"}`)
	}
	w.Header().Set("Content-Type", jsonType)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(append(text, '\n'))
}
