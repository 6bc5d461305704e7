package notify

import (
	"context"
	"fmt"
	"net"
	"strconv"

	gomail "github.com/wneessen/go-mail"
)

func (m Mail) hostPort() (host string, port int, err error) {
	host, text, err := net.SplitHostPort(m.Server)
	if err != nil {
		return "", 0, err
	}
	port, err = strconv.Atoi(text)
	if err == nil && (host == "" || port < 1 || port > 65535) {
		err = fmt.Errorf("%q is no host:port", m.Server)
	}
	return host, port, err
}

// mailSender writes a mail for each notice.
type mailSender struct {
	Mail
	client *gomail.Client
}

func newMailSender(m Mail) (*mailSender, error) {
	host, port, err := m.hostPort()
	if err != nil {
		return nil, err
	}
	options := []gomail.Option{gomail.WithPort(port), gomail.WithTimeout(patience)}
	switch m.Security {
	case "tls":
		options = append(options, gomail.WithSSL())
	case "starttls":
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	default:
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS))
	}
	if m.User != "" {
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(m.User), gomail.WithPassword(m.Password))
	}
	client, err := gomail.NewClient(host, options...)
	return &mailSender{m, client}, err
}

func (m *mailSender) send(ctx context.Context, n Notice) error {
	message := gomail.NewMsg()
	if err := message.From(m.From); err != nil {
		return refusal{err}
	}
	if err := message.To(m.To...); err != nil {
		return refusal{err}
	}
	message.Subject(subject(n))
	message.SetDateWithValue(n.At)
	message.SetBodyString(gomail.TypeTextPlain, n.Text+"\n\n-- \nbench "+n.Bench+", "+n.At.Format("2006-01-02 15:04:05 MST")+"\n")
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	return m.client.DialAndSendWithContext(ctx, message)
}

// subject is short enough for a telephone.
func subject(n Notice) string {
	who := n.Bench
	if n.Unit != "" {
		who = string(n.Unit)
	}
	what := string(n.Kind)
	if n.Verdict != "" {
		what = string(n.Verdict)
	}
	if n.TestPoint != "" {
		what += " at " + string(n.TestPoint)
	}
	switch n.Stage {
	case Still:
		what += ", still"
	case Over:
		what += " is over"
	}
	return who + ": " + what
}
