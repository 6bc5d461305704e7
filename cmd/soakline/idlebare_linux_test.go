package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"
)

// bareAskerEnv has the test binary be a bare asker of the ports that it names.
const bareAskerEnv = "SOAKLINE_TEST_BARE_ASKER"

func init() { children[bareAskerEnv] = bareAsker }

// bareAsker asks each port who it is ten times a second and does nothing with the
// answers, until it is ended: what waking up and talking alone cost on a machine.
func bareAsker(ports string) (exitCode int) {
	for _, port := range strings.Split(ports, "\n") {
		line, err := os.OpenFile(port, os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		go func() {
			answers := bufio.NewReader(line)
			for range time.Tick(100 * time.Millisecond) {
				if _, err := line.WriteString("*IDN?\n"); err != nil {
					panic(err)
				}
				if _, err := answers.ReadString('\n'); err != nil {
					panic(err)
				}
			}
		}()
	}
	select {}
}

// bareCost is the share of a core, in percent, that a bare asker of the ports takes.
func bareCost(t *testing.T, ports []string, long time.Duration) float64 {
	t.Helper()
	asker := exec.Command(os.Args[0])
	asker.Env = append(os.Environ(), bareAskerEnv+"="+strings.Join(ports, "\n"))
	asker.Stderr = os.Stderr
	if err := asker.Start(); err != nil {
		t.Fatal(err)
	}
	rest(time.Second) // to begin
	used, began := processorTime(t, asker.Process.Pid), time.Now()
	rest(long)
	spent, took := processorTime(t, asker.Process.Pid)-used, time.Since(began)
	if err := asker.Process.Kill(); err != nil {
		t.Errorf("the bare asker had ended: %v", err)
	}
	_ = asker.Wait() // which says only that it was killed
	return 100 * spent.Seconds() / took.Seconds()
}
