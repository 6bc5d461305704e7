package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/config"
	"soakline/logger"
)

// The exit codes that scripts rely on.
const (
	exitDone      = 0 // done, or pass
	exitFail      = 1 // the verdict is fail
	exitUsage     = 2 // wrong usage or configuration
	exitUndecided = 3 // the verdict is undecided
	exitTrouble   = 4 // port or file trouble
)

// exitError is an error that knows its exit code. Without a cause nothing is
// printed: the verdict has been.
type exitError struct {
	code int
	err  error
}

func (e *exitError) Error() string {
	if e.err == nil {
		return fmt.Sprintf("exit code %d", e.code)
	}
	return e.err.Error()
}

func (e *exitError) Unwrap() error { return e.err }

// wrongUsage marks an error as the user's to mend on the command line or in a
// file of the configuration.
func wrongUsage(err error) error {
	if err == nil {
		return nil
	}
	return &exitError{code: exitUsage, err: err}
}

// outcomeExit turns verdicts into the exit code of the worst: fail before
// undecided before pass.
func outcomeExit(outcomes ...checks.Outcome) error {
	code := exitDone
	for _, outcome := range outcomes {
		switch {
		case outcome == checks.Fail:
			code = exitFail
		case outcome != checks.Pass && code == exitDone:
			code = exitUndecided
		}
	}
	if code == exitDone {
		return nil
	}
	return &exitError{code: code}
}

// usersToMend are errors of bench and book that come from the command line or from a
// file of the configuration; the daemon refuses them as unprocessable.
var usersToMend = []error{logger.ErrSheetChanged, logger.ErrNoFinal, logger.ErrNoSheet, logger.ErrNoCriteria, logger.ErrNoDischarge,
	logger.ErrNoAnswer}

// isUsersToMend tells whether an error is one of those, here or from a daemon.
func isUsersToMend(err error) bool {
	if refused, ok := errors.AsType[refusedByDaemon](err); ok {
		return refused.status == http.StatusUnprocessableEntity
	}
	return slices.ContainsFunc(usersToMend, func(kind error) bool { return errors.Is(err, kind) })
}

// markTrouble has the errors of a command's own work end with the code for port or
// file trouble, unless they know better. What is left unmarked comes from reading
// the command line.
func markTrouble(cmd *cobra.Command) {
	for _, child := range cmd.Commands() {
		markTrouble(child)
	}
	work := cmd.RunE
	if work == nil {
		return
	}
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		err := work(cmd, args)
		if _, known := errors.AsType[*exitError](err); err == nil || known {
			return err
		}
		if isUsersToMend(err) {
			return wrongUsage(err)
		}
		return &exitError{code: exitTrouble, err: err}
	}
}

// explain prints an error, if there is one to print, and returns the exit code.
func explain(w io.Writer, err error) int {
	if err == nil {
		return exitDone
	}
	code := exitUsage
	known, ok := errors.AsType[*exitError](err)
	if ok {
		code = known.code
	}
	switch {
	case ok && known.err == nil:
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(w, "soakline: stopped")
	case len(config.Mistakes(err)) > 0:
		for _, mistake := range config.Mistakes(err) {
			fmt.Fprintln(w, mistake)
		}
	default:
		fmt.Fprintf(w, "soakline: %s\n", strings.ReplaceAll(err.Error(), "\n", "; "))
	}
	return code
}

// noArguments and the like turn the library's complaints into usage errors.
func noArguments(cmd *cobra.Command, args []string) error {
	return wrongUsage(cobra.NoArgs(cmd, args))
}

func oneArgument(cmd *cobra.Command, args []string) error {
	return wrongUsage(cobra.ExactArgs(1)(cmd, args))
}
