package simbench

import (
	"fmt"
	"io"
)

// send puts an answer on the line, with its end and with what faults make of it.
// An empty answer sends nothing.
func (in *instrument) send(conn io.Writer, answer []byte) error {
	if len(answer) == 0 {
		return nil
	}
	now := in.now()
	line := append(answer, in.ending...)
	switch {
	case in.faults.take("power-cycle", now):
		return in.dieWithin(conn, line)
	case in.faults.take("wrong-speed", now):
		line = noise(len(line)/2+1, in.chance)
	case in.faults.take("garbage", now):
		line = append(noise(len(answer), in.chance), in.ending...)
	case in.faults.take("half-line", now):
		line = line[:len(answer)/2]
	case in.late == nil && in.faults.take("late", now):
		in.late = line
		return nil
	case in.faults.take("duplicate", now):
		line = append(line[:len(line):len(line)], line...)
	}
	if in.late != nil {
		line = append(in.late, line...)
		in.late = nil
	}
	if _, err := conn.Write(line); err != nil {
		return fmt.Errorf("writing an answer: %w", err)
	}
	return nil
}

// dieWithin loses the mains in the middle of an answer: half of it goes out,
// settings and status are as after switching on, and nothing is heard for the
// time the fault gives.
func (in *instrument) dieWithin(conn io.Writer, line []byte) error {
	_, err := conn.Write(line[:len(line)/2])
	if in.machine != nil {
		in.machine.reset()
	}
	in.status = status{event: bitPowerOn}
	in.late = nil
	in.faults.mu.Lock()
	dead := in.faults.dead
	in.faults.mu.Unlock()
	in.faults.set("silence", extent{until: in.now() + dead})
	if err != nil {
		return fmt.Errorf("writing half an answer: %w", err)
	}
	return nil
}
