package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"sync"
	"time"

	"soakline/logger"
)

// standbyPatience is how long the child that stands by may take to answer, and to end.
const standbyPatience = 10 * time.Second

// standby is a child process that outlives a killed program for as long as it takes
// to switch outputs off. It hears of outputs by a pipe: the pipe's end without the
// word that all is off is the end of this program. No port is open in it until then.
type standby struct {
	stderr io.Writer

	mu      sync.Mutex
	child   *exec.Cmd
	stdin   io.WriteCloser
	answers *bufio.Reader
	timing  interface{ SetReadDeadline(time.Time) error }
}

var _ logger.Standby = (*standby)(nil)

// Cover tells the child what is to be off, and returns when it has understood. A child
// that is not there is started, one that has died by itself is replaced.
func (s *standby) Cover(outputs []logger.CoveredOutput) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(outputs) == 0 {
		return s.dismiss()
	}
	if s.child != nil {
		if err := s.tell(outputs); err == nil {
			return nil
		}
		// It is gone, or as good as gone; what it says at its end is of no use.
		_ = s.end()
	}
	if err := s.start(); err != nil {
		return err
	}
	if err := s.tell(outputs); err != nil {
		return errors.Join(fmt.Errorf("the process that stands by does not answer: %w", err), s.end())
	}
	return nil
}

// start starts the child, away from the terminal's Ctrl-C.
func (s *standby) start() error {
	self, err := os.Executable()
	if err != nil {
		return fmt.Errorf("start the process that stands by: %w", err)
	}
	child := exec.Command(self, standbyName)
	child.Stderr = s.stderr
	detach(child)
	stdin, err := child.StdinPipe()
	if err != nil {
		return fmt.Errorf("start the process that stands by: %w", err)
	}
	stdout, err := child.StdoutPipe()
	if err != nil {
		return fmt.Errorf("start the process that stands by: %w", err)
	}
	if err := child.Start(); err != nil {
		return fmt.Errorf("start the process that stands by: %w", err)
	}
	s.child, s.stdin, s.answers = child, stdin, bufio.NewReader(stdout)
	s.timing, _ = stdout.(interface{ SetReadDeadline(time.Time) error })
	return nil
}

// tell sends the outputs and waits until the child has them.
func (s *standby) tell(outputs []logger.CoveredOutput) error {
	if s.timing != nil {
		if err := s.timing.SetReadDeadline(time.Now().Add(standbyPatience)); err != nil && !errors.Is(err, os.ErrNoDeadline) {
			return err
		}
	}
	if err := json.NewEncoder(s.stdin).Encode(outputs); err != nil {
		return err
	}
	_, err := s.answers.ReadString('\n')
	return err
}

// dismiss tells the child that all is off, and waits for its end.
func (s *standby) dismiss() error {
	if s.child == nil {
		return nil
	}
	return errors.Join(s.tell(nil), s.end())
}

// end closes the pipe and waits for the child, but not for one that has work left.
func (s *standby) end() error {
	err := s.stdin.Close()
	ended := make(chan error, 1)
	child := s.child
	go func() { ended <- child.Wait() }()
	s.child = nil
	select {
	case waited := <-ended:
		return errors.Join(err, waited)
	case <-time.After(standbyPatience):
		return errors.Join(err, errors.New("the process that stands by did not end"))
	}
}
