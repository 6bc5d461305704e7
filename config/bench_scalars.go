package config

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"
	"go.yaml.in/yaml/v3"

	"soakline/logger"
)

// scalars reads the settings that a flag or the environment may set instead.
func (l *loader) scalars(s *section, flags *pflag.FlagSet, to *logger.Settings) error {
	file := map[string]any{}
	kept := l.bookGroup(s, to)
	for _, key := range overridable {
		if kept != nil && key == "book" {
			if text := kept.text("file", need(l.outsideOf(key, flags) == "")); text != "" {
				file[key] = text
			}
			kept.done()
			continue
		}
		if slices.Contains(l.open, key) {
			l.outsideOf(key, flags)
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

// outsideOf notes and returns where a setting comes from if not from the file.
func (l *loader) outsideOf(key string, flags *pflag.FlagSet) string {
	if from := origin(key, flags); from != "" && slices.Contains(l.open, key) {
		l.outside[key] = from
	}
	return l.outside[key]
}

// bookGroup reads a book that is given as a group rather than as a file's name; it
// leaves the name to be read.
func (l *loader) bookGroup(s *section, to *logger.Settings) *section {
	if v := s.find("book"); v == nil || v.Kind != yaml.MappingNode {
		return nil
	}
	group := s.sub("book", required)
	to.TimeStep = group.duration("time_step", optional, 0)
	to.ThinAfter = group.duration("thin_after", optional, 0)
	to.Waiting = group.integer("waiting", optional, 0)
	return group
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
