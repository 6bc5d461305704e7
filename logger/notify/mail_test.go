package notify

import (
	"fmt"
	"io"
	"log/slog"
	"mime"
	"net"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestMail writes to a real mail server on this machine, which puts what it takes into
// a Maildir.
func TestMail(t *testing.T) {
	server, err := exec.LookPath("aiosmtpd")
	if err != nil {
		t.Fatal("aiosmtpd is not here (Debian: python3-aiosmtpd); make test installs what is missing")
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := listener.Addr().String()
	if err := listener.Close(); err != nil {
		t.Fatal(err)
	}
	box := filepath.Join(t.TempDir(), "box")
	run := exec.CommandContext(t.Context(), server, "-n", "-l", address, "-c", "aiosmtpd.handlers.Mailbox", box)
	if err := run.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := run.Process.Kill(); err == nil {
			_ = run.Wait() // it was killed
		}
	})
	c, err := NewCourier(Target{Name: "office", Mail: &Mail{Server: address, Security: "none", From: "bench@pier.example", To: []string{"office@pier.example"}}},
		slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	notice := example("B8-0147: rail-5v dc-voltage left its limits at 03:12:00 (4.71 V ± 0.0013, low limit 4.75 V).")
	notice.Unit = "B8-0147\r\nBcc: all@pier.example"
	for deadline := time.Now().Add(20 * time.Second); ; {
		if err = c.Send(t.Context(), notice); err == nil {
			break
		}
		if time.Now().After(deadline) {
			t.Fatal(err)
		}
		<-time.After(50 * time.Millisecond)
	}
	message, body := onlyMail(t, box)
	if message.Header.Get("From") != "<bench@pier.example>" || message.Header.Get("To") != "<office@pier.example>" || message.Header.Get("Bcc") != "" {
		t.Errorf("from %q to %q bcc %q", message.Header.Get("From"), message.Header.Get("To"), message.Header.Get("Bcc"))
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(message.Header.Get("Subject"))
	if err != nil || !strings.Contains(subject, "excursion at rail-5v") || !strings.Contains(body, "left its limits at 03:12:00") {
		t.Errorf("subject %q\n%s", message.Header.Get("Subject"), body)
	}
}

// onlyMail reads the one mail of a Maildir.
func onlyMail(t *testing.T, box string) (*mail.Message, string) {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(box, "new", "*"))
	if err != nil || len(names) != 1 {
		t.Fatalf("mails %q, %v", names, err)
	}
	file, err := os.Open(names[0])
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	message, err := mail.ReadMessage(file)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(message.Body)
	if err != nil {
		t.Fatal(err)
	}
	return message, string(body)
}

func TestMailSettings(t *testing.T) {
	for _, row := range []struct{ server, ok string }{{"mail.example:25", "25"}, {"mail.example", ""}, {":25", ""}, {"mail.example:0", ""}, {"mail.example:smtp", ""}} {
		_, port, err := Mail{Server: row.server}.hostPort()
		if (err == nil) != (row.ok != "") || err == nil && fmt.Sprint(port) != row.ok {
			t.Errorf("%s: port %d, %v", row.server, port, err)
		}
	}
}
