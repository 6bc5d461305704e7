package device

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/device/port"
	"soakline/device/scpi"
)

// strange is a port whose instrument is set to one line and one ending that the
// program has to find. At another speed it gives and takes noise.
type strange struct {
	set     LineSettings
	answers map[string]string
	// talks is sent every second by itself.
	talks  string
	openIn LineSettings
	opened int
	began  time.Time
	said   int
	buffer []byte
	got    []byte
	gone   bool
}

func (s *strange) open(_ context.Context, _ string, line LineSettings) (Port, error) {
	if line.DataBits == 7 && s.set.DataBits == 8 && s.gone {
		return nil, &port.Error{Op: "open", Port: "port", Kind: port.KindUnsuitable, Err: errors.New("no such frame")}
	}
	s.openIn, s.buffer, s.got = line, nil, nil
	s.opened++
	if s.began.IsZero() {
		s.began = time.Now()
	}
	return s, nil
}

func (s *strange) understood() bool {
	return s.openIn.Baud == s.set.Baud && s.openIn.DataBits == s.set.DataBits
}

func (s *strange) Name() string { return "/dev/strange" }
func (s *strange) Close() error { return nil }
func (s *strange) Discard() error {
	s.buffer = nil
	return nil
}

func (s *strange) Write(_ context.Context, p []byte) error {
	if !s.understood() {
		return nil
	}
	s.got = append(s.got, p...)
	ending := map[string]string{"lf": "\n", "cr": "\r", "crlf": "\r\n"}[s.set.SendEnding]
	for {
		message, rest, ok := bytes.Cut(s.got, []byte(ending))
		if !ok {
			return nil
		}
		s.got = rest
		if answer, ok := s.answers[string(message)]; ok {
			s.buffer = append(s.buffer, answer+ending...)
		}
	}
}

func (s *strange) Read(ctx context.Context, p []byte) (int, error) {
	for s.say(); len(s.buffer) == 0; s.say() {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if s.talks == "" {
			<-ctx.Done()
			continue
		}
		if wait(ctx, time.Until(s.began.Add(time.Duration(s.said+1)*time.Second))) != nil {
			return 0, ctx.Err()
		}
	}
	n := copy(p, s.buffer)
	s.buffer = s.buffer[n:]
	return n, nil
}

// say puts on the line what has been said by now.
func (s *strange) say() {
	for s.talks != "" && time.Since(s.began) >= time.Duration(s.said+1)*time.Second {
		s.said++
		if s.understood() {
			s.buffer = append(s.buffer, s.talks...)
		} else {
			s.buffer = append(s.buffer, 0xfe, 0x80, 0xf8)
		}
	}
}

func at(baud int, ending string) LineSettings {
	l := eightBits(baud)
	l.SendEnding = ending
	return l
}

// S-70, S-73: each common speed and ending is found, and the kind told.
func TestIdentifyFindsTheLine(t *testing.T) {
	seven := LineSettings{Baud: 9600, DataBits: 7, Parity: "even", StopBits: "1", Flow: "none", SendEnding: "lf"}
	for _, row := range []struct {
		set  LineSettings
		says map[string]string
		want Looks
	}{
		{at(9600, "lf"), map[string]string{"MEAS:VOLT:DC?": "+1.00213E-03"}, Looks{Meter, "MEAS:VOLT:DC?", "+1.00213E-03"}},
		{at(115200, "crlf"), map[string]string{"MEAS:VOLT:DC?": "9.9E37"}, Looks{Meter, "MEAS:VOLT:DC?", "9.9E37"}},
		{at(19200, "cr"), map[string]string{"OUTP?": "0", "MEAS:VOLT:DC?": "5.0"}, Looks{Supply, "OUTP?", "0"}},
		{at(1200, "lf"), map[string]string{"MEAS:VOLT:PTP? (@1)": "1.2E+00"}, Looks{Scope, "MEAS:VOLT:PTP? (@1)", "1.2E+00"}},
		{at(2400, "lf"), map[string]string{"OUTP?": "what"}, Looks{Kind: Unknown}},
		{seven, map[string]string{"MEAS:VOLT:DC?": "1"}, Looks{Meter, "MEAS:VOLT:DC?", "1"}},
	} {
		t.Run(row.set.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				answers := map[string]string{identifyQuery: "Saltmarsh,M6,S60017,1.4", "SYST:ERR?": `0,"No error"`}
				for ask, answer := range row.says {
					answers[ask] = answer
				}
				s := &strange{set: row.set, answers: answers}
				tried := 0
				found, err := identify(t.Context(), "port", commonLines, s.open, look, func(LineSettings) { tried++ })
				if err != nil || found.Line != row.set || found.Looks != row.want || found.Identity.Serial != "S60017" || found.Port != s.Name() || tried == 0 {
					t.Errorf("%+v, %v", found, err)
				}
			})
		})
	}
}

func TestIdentifyHearsATalker(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &strange{set: at(4800, "crlf"), talks: "RES 8.311 V\r\n"}
		found, err := identify(t.Context(), "port", commonLines, s.open, look, func(LineSettings) {})
		if err != nil || found.Line.Baud != 4800 || found.Looks.Kind != Talker || len(found.Lines) != 3 || found.Lines[0] != "RES 8.311 V" {
			t.Errorf("%+v, %v", found, err)
		}
	})
}

func TestIdentifyFindsNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		// A frame that the port does not have is left out.
		s := &strange{set: at(300, "lf"), talks: "RES 8.311 V\r\n", gone: true}
		_, err := identify(t.Context(), "port", commonLines, s.open, look, func(LineSettings) {})
		own, ok := errors.AsType[*Error](err)
		if !ok || own.Kind != Silence || !errors.Is(err, scpi.ErrSilence) || strings.Contains(err.Error(), "7E1") ||
			!strings.HasPrefix(err.Error(), "port: identify") || !strings.Contains(err.Error(), "no text") || own.Hint == "" {
			t.Errorf("%v", err)
		}
		silent := &strange{set: at(300, "lf")}
		if _, err := identify(t.Context(), "tcp://host:1", commonLines, silent.open, look, func(LineSettings) {}); err == nil || silent.opened != 1 {
			t.Errorf("a serial server was opened %d times: %v", silent.opened, err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if _, err := identify(ctx, "port", commonLines, silent.open, look, func(LineSettings) {}); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("called off: %v", err)
		}
		refused := &port.Error{Op: "open", Port: "port", Kind: port.KindDenied, Hint: "Join the group.", Err: errors.New("permission denied")}
		_, err = identify(t.Context(), "port", commonLines, func(context.Context, string, LineSettings) (Port, error) { return nil, refused }, look, func(LineSettings) {})
		if !errors.Is(err, refused) {
			t.Errorf("denied: %v", err)
		}
	})
}
