package notify

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"time"
)

// commandSender runs a program for each notice. No part of a notice becomes part of
// the command: it comes on standard input, and its short words in the environment.
type commandSender struct{ command []string }

func (c commandSender) send(ctx context.Context, n Notice) error {
	body, err := json.Marshal(n)
	if err != nil {
		return refusal{err}
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	run := exec.CommandContext(ctx, c.command[0], c.command[1:]...)
	run.Stdin = bytes.NewReader(body)
	run.Env = append(withoutOwn(os.Environ()), "SOAKLINE_NOTICE="+string(n.Kind), "SOAKLINE_STAGE="+string(n.Stage), "SOAKLINE_UNIT="+string(n.Unit))
	run.WaitDelay = time.Second
	var said bytes.Buffer
	run.Stdout, run.Stderr = &said, &said
	switch err := run.Run(); {
	case err == nil:
		return nil
	case errors.Is(err, exec.ErrNotFound) || errors.Is(err, os.ErrNotExist) || errors.Is(err, os.ErrPermission):
		return refusal{fmt.Errorf("run %s: %w", c.command[0], err)}
	default:
		return fmt.Errorf("run %s: %w: %s", c.command[0], err, firstLine(said.String()))
	}
}

// firstLine is what of a program's words goes into an error.
func firstLine(text string) string {
	line, _, _ := strings.Cut(strings.TrimSpace(text), "\n")
	return line[:min(len(line), 200)]
}

// withoutOwn leaves out this program's own settings, which may hold its token.
func withoutOwn(environment []string) []string {
	return slices.DeleteFunc(environment, func(v string) bool { return strings.HasPrefix(v, "SOAKLINE_") })
}
