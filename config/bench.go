package config

import (
	"crypto/tls"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/notify"
	"soakline/logger/ship"
)

// What bench.yaml need not say.
const (
	// DefaultListen is the address of page and metrics: this machine only.
	DefaultListen = "127.0.0.1:8725"
	// DefaultCommitEvery is the longest that a reading waits before it is on the
	// disk.
	DefaultCommitEvery = time.Second
)

// Bench is a bench with everything that its file names.
type Bench struct {
	logger.Settings
	// File is the path of bench.yaml.
	File string
	// Loaded are the sheets of Settings.Sheets, in the same order, each with the
	// text it was read from.
	Loaded []LoadedSheet
	// Ship is where the book is shipped to.
	Ship []ship.Target
	// TLS is with what page and metrics are served encrypted; nil where they are not.
	TLS *tls.Certificate
	// Notify is who is told of what happens.
	Notify    notify.Settings
	Discovery Discovery
	// Files are the paths of all files that were read, bench.yaml first; files that
	// came with the program are not among them. It is set for a bench with mistakes
	// as well.
	Files []string
	// SecretFiles are the paths of files that hold nothing but a secret.
	SecretFiles []string
}

// Load reads the bench's file and every test sheet and command set that it names.
// Flags (nil for none) win over the environment, and that over the file; only
// listen, book, token and commit_every can be set so (--listen, SOAKLINE_LISTEN).
// Every mistake of every file is in the error, see Mistakes.
func Load(path string, flags *pflag.FlagSet) (Bench, error) {
	text, err := onDisk("").read(path)
	if err != nil {
		return Bench{}, &Mistake{File: path, Sentence: "cannot be read: " + unreadable(err), cause: err}
	}
	return newLoader(onDisk(filepath.Dir(path)), overridable).load(path, text, flags)
}

// loader reads one bench.
type loader struct {
	folder
	bench *document
	docs  []*document // the bench's file first
	sets  map[string]device.CommandSet
	// open are the settings that flags and the environment may set.
	open []string
	// outside says for each setting that did not come from the file where it came
	// from: "--listen", "SOAKLINE_LISTEN".
	outside     map[string]string
	secretFiles []string
	// sheetUnread is true once a test sheet could not be read at all, faulty once
	// any file has a mistake: what hangs on them cannot be judged then.
	sheetUnread, faulty bool
}

// newLoader prepares to read the bench in a folder. The settings that open names
// may come from flags and the environment instead.
func newLoader(f folder, open []string) *loader {
	return &loader{folder: f, sets: map[string]device.CommandSet{}, open: open, outside: map[string]string{}}
}

// load reads the bench and all that it names. The order matters: sheets and
// instruments come before the wiring that refers to them is judged.
func (l *loader) load(file string, text []byte, flags *pflag.FlagSet) (Bench, error) {
	l.bench = parse(file, text)
	l.docs = []*document{l.bench}
	s := l.bench.top()
	if s == nil {
		return Bench{}, joined(l.docs...)
	}
	b := Bench{File: file}
	b.Bench = s.text("bench", required)
	if err := l.scalars(s, flags, &b.Settings); err != nil {
		return Bench{}, err
	}
	for i, ref := range s.texts("sheets", required) {
		sheet := l.loadSheet(s, i, ref)
		b.Loaded = append(b.Loaded, sheet)
		b.Sheets = append(b.Sheets, sheet.Sheet)
	}
	for _, at := range s.list("instruments", required) {
		b.Instruments = append(b.Instruments, l.instrument(at))
	}
	for _, at := range s.list("places", required) {
		b.Places = append(b.Places, readPlace(at))
	}
	b.Notify, b.TLS = l.notices(s), l.certificate(s)
	b.Ship, b.Discovery = l.targets(s), l.discovery(s)
	s.done()
	l.validate(b.Settings)
	b.Files, b.SecretFiles = l.files(), l.secretFiles
	return b, joined(l.docs...)
}

// files are the paths of what was read from disk.
func (l *loader) files() []string {
	var paths []string
	for _, d := range l.docs {
		if !strings.HasPrefix(d.file, shippedMark) && !slices.Contains(paths, d.file) {
			paths = append(paths, d.file)
		}
	}
	return paths
}

// validate takes over what the bench's own rules found, but for what hangs on a
// file that could not be read.
func (l *loader) validate(settings logger.Settings) {
	var kept []error
	for _, err := range parts(settings.Validate()) {
		_, notGiven := errors.AsType[*logger.NotGivenError](err)
		noSuch, unknown := errors.AsType[*device.NameError](err)
		if notGiven && l.faulty || unknown && l.sheetUnread && noSuch.Kind == logger.TestPointKind {
			continue
		}
		kept = append(kept, err)
	}
	l.bench.validate("", errors.Join(kept...))
	for _, m := range l.bench.mistakes {
		if from, ok := l.outside[m.Key]; ok {
			m.File, m.Line, m.Column, m.Key = originOf(from), 0, 0, from
		}
	}
}

// originOf says, in the place of a file's name, where a setting came from.
func originOf(from string) string {
	if strings.HasPrefix(from, "--") {
		return "command line"
	}
	return "environment"
}

// instrument reads one instrument with its command set and what the bench changes
// in it.
func (l *loader) instrument(s *section) logger.InstrumentSettings {
	if s == nil {
		return logger.InstrumentSettings{}
	}
	in := logger.InstrumentSettings{
		Name:     s.text("name", required),
		Port:     s.text("port", required),
		Commands: l.commandSet(s),

		Calibrated: s.day("calibrated"), CalibrationDue: s.day("calibration_due"),
	}
	if line := s.sub("line", optional); line != nil {
		in.Commands.Line = readLine(line, in.Commands.Line)
		s.doc.validate(line.path, in.Commands.Line.Validate())
	}
	in.Commands.Asks = slices.Clone(in.Commands.Asks)
	for _, at := range s.list("accuracy", optional) {
		l.overrideAccuracy(at, &in.Commands)
	}
	s.done()
	return in
}

// overrideAccuracy sets the accuracy clause of one measure: the instrument at hand
// rather than its kind.
func (l *loader) overrideAccuracy(s *section, set *device.CommandSet) {
	if s == nil {
		return
	}
	m := s.measure("measure", required)
	a := accuracyKeys(s, m)
	s.done()
	s.doc.validate(s.path, a.Validate(m.Unit()))
	found := false
	for i := range set.Asks {
		if set.Asks[i].Measure == m {
			set.Asks[i].Accuracy, found = a, true
		}
	}
	if set.Listen != nil && set.Gives(m) {
		listen := *set.Listen
		listen.Accuracy = a
		set.Listen, found = &listen, true
	}
	if !found && m.Known() && set.Name != "" {
		s.wrong("measure", "command set %q does not ask for %s", set.Name, m)
	}
}

// readPlace reads a place with its wiring; whether the wiring leads anywhere is
// judged once everything is read.
func readPlace(s *section) logger.Place {
	if s == nil {
		return logger.Place{}
	}
	p := logger.Place{Name: s.text("name", required)}
	for _, at := range s.list("connections", required) {
		p.Connections = append(p.Connections, logger.Connection{
			TestPoint:  checks.TestPointName(at.text("test_point", required)),
			Instrument: at.text("instrument", required),
			Channel:    at.text("channel", optional),
		})
		at.done()
	}
	s.done()
	return p
}
