//go:build unix

package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// The stamper is meters in a process of their own whose answers are the time at which
// they are given, in seconds since a moment that both sides know, to the microsecond:
// so each reading says by itself how old it is, and which it is. When standard input
// ends they write down all that they have answered.
const (
	stamperEnv = "SOAKLINE_TEST_STAMPER" // the folder of the ports, and the moment in ns
	stampers   = 64
)

func init() { children[stamperEnv] = runStamper }

// stamp is microseconds since the moment.
type stamp int64

func stampPort(dir string, i int) string { return filepath.Join(dir, fmt.Sprintf("meter-%02d", i)) }

func stampLog(dir string, i int) string { return stampPort(dir, i) + ".log" }

// runStamper is the child's part.
func runStamper(where string) int {
	dir, moment, _ := strings.Cut(where, " ")
	ns, err := strconv.ParseInt(moment, 10, 64)
	if err == nil {
		err = stampAll(dir, time.Unix(0, ns))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

func stampAll(dir string, since time.Time) error {
	var meters sync.WaitGroup
	var masters []*os.File
	given := make([][]stamp, stampers)
	for i := range stampers {
		master, slave, err := stampTerminal()
		if err != nil {
			return err
		}
		defer slave.Close()
		masters = append(masters, master)
		if err := os.Symlink(slave.Name(), stampPort(dir, i)); err != nil {
			return err
		}
		meters.Go(func() { given[i] = stampMeter(master, i, since) })
	}
	fmt.Println("ready")
	_, err := io.Copy(io.Discard, os.Stdin)
	for _, master := range masters {
		err = errors.Join(err, master.Close())
	}
	meters.Wait()
	for i, stamps := range given {
		var text strings.Builder
		for _, s := range stamps {
			fmt.Fprintln(&text, int64(s))
		}
		err = errors.Join(err, os.WriteFile(stampLog(dir, i), []byte(text.String()), 0o600))
	}
	return err
}

// stampTerminal is a raw pseudo-terminal whose master waits in the runtime's poller.
func stampTerminal() (master, slave *os.File, err error) {
	blocking, slave, err := pty.Open()
	if err != nil {
		return nil, nil, err
	}
	fd, err := unix.FcntlInt(blocking.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err == nil {
		err = unix.SetNonblock(fd, true)
	}
	if err == nil {
		_, err = term.MakeRaw(int(slave.Fd()))
	}
	return os.NewFile(uintptr(fd), blocking.Name()), slave, errors.Join(err, blocking.Close())
}

// stampMeter answers until the terminal is closed, and returns what it gave.
func stampMeter(master *os.File, i int, since time.Time) (given []stamp) {
	lines := bufio.NewReader(master)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return given
		}
		answer := ""
		switch strings.TrimRight(line, "\r\n") {
		case "*IDN?":
			answer = fmt.Sprintf("Saltmarsh,M6,S%05d,1.4\n", i)
		case "SYSTem:ERRor?":
			answer = "0,\"No error\"\n"
		case "MEASure:VOLTage:DC?":
			now := stamp(time.Since(since).Microseconds())
			given = append(given, now)
			answer = fmt.Sprintf("%d.%06d\n", now/1e6, now%1e6)
		}
		if _, err := io.WriteString(master, answer); err != nil {
			return given
		}
	}
}
