package config

import (
	"time"

	"soakline/logger/notify"
)

// defaultDiskLowMB is how much room must be left beside the book; common practice, no
// source: a week of a busy bench.
const defaultDiskLowMB = 500

// notices reads whom to tell of what.
func (l *loader) notices(s *section) notify.Settings {
	settings := notify.Settings{DiskLowBytes: uint64(max(0, s.integer("disk_low_mb", optional, defaultDiskLowMB))) * 1e6}
	for _, at := range s.list("notify", optional) {
		if at == nil {
			settings.Targets = append(settings.Targets, notify.Target{})
			continue
		}
		settings.Targets = append(settings.Targets, l.notifyTarget(at))
		at.done()
	}
	s.doc.validate("", settings.Validate())
	return settings
}

func (l *loader) notifyTarget(s *section) notify.Target {
	t := notify.Target{Name: s.text("name", required), Command: s.texts("command", optional)}
	for _, kind := range s.texts("tell", optional) {
		t.Tell = append(t.Tell, notify.Kind(kind))
	}
	if at := s.sub("webhook", optional); at != nil {
		t.Webhook = &notify.Webhook{URL: at.text("url", required), Key: []byte(l.secret(at)), KeyID: at.textOr("key_id", "soakline"), CA: l.authorities(at)}
		at.done()
	}
	if at := s.sub("mail", optional); at != nil {
		t.Mail = &notify.Mail{Server: at.text("server", required), Security: at.textOr("security", "starttls"), User: at.text("user", optional),
			Password: string(l.secret(at)), From: at.text("from", required), To: at.texts("to", required)}
		at.done()
	}
	if at := s.sub("quiet", optional); at != nil {
		t.Quiet = &notify.Quiet{From: at.timeOfDay("from"), To: at.timeOfDay("to")}
		at.done()
	}
	return t
}

// timeOfDay reads "22:00".
func (s *section) timeOfDay(key string) time.Duration {
	text := s.text(key, required)
	if text == "" {
		return 0
	}
	at, err := time.Parse("15:04", text)
	if err != nil {
		s.wrong(key, "%q is no time of day: write it as 22:00, in quotes", text)
		return 0
	}
	return time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute
}
