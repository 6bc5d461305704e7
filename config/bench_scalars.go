package config

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"

	"soakline/logger"
)

// scalars reads the settings that a flag or the environment may set instead.
func (l *loader) scalars(s *section, flags *pflag.FlagSet, to *logger.Settings) error {
	file := map[string]any{}
	for _, key := range overridable {
		if slices.Contains(l.open, key) {
			if from := origin(key, flags); from != "" {
				l.outside[key] = from
			}
		}
		if text := s.text(key, need(key == "book" && l.outside[key] == "")); text != "" {
			file[key] = text
		}
	}
	tokenFile := l.tokenFile(s)
	if tokenFile != "" {
		file["token"] = tokenFile
	}
	v, err := settled(file, l.open, flags)
	if err != nil {
		return err
	}
	v.SetDefault("listen", DefaultListen)
	v.SetDefault("commit_every", DefaultCommitEvery.String())
	to.Listen, to.Token = v.GetString("listen"), v.GetString("token")
	l.book(v, to)
	d, why := parseDuration(v.GetString("commit_every"))
	if why != "" {
		s.wrong("commit_every", "%s", why)
	}
	to.CommitEvery = d
	return nil
}

// book takes a path in the file relative to the file, one from outside relative to
// the working folder.
func (l *loader) book(v *viper.Viper, to *logger.Settings) {
	to.Book = v.GetString("book")
	if _, outside := l.outside["book"]; !outside && to.Book != "" {
		to.Book = l.show(to.Book)
	}
	if to.Book != "" {
		to.Book = filepath.Clean(to.Book)
	}
}

// tokenFile returns the token that token_file holds, so that bench.yaml can be
// shown around.
func (l *loader) tokenFile(s *section) string {
	name := s.text("token_file", optional)
	if name == "" {
		return ""
	}
	if s.has("token") {
		s.wrong("token_file", "the token is given already by token: keep one of the two")
	}
	l.secretFiles = append(l.secretFiles, l.show(name))
	text, err := l.read(name)
	if err != nil {
		s.wrong("token_file", "%s cannot be read: %s", l.show(name), unreadable(err)).cause = err
		return ""
	}
	token := strings.TrimSpace(string(text))
	if token == "" || strings.ContainsAny(token, "\r\n") {
		s.wrong("token_file", "%s must hold the token and nothing else, on one line", l.show(name))
	}
	return token
}
