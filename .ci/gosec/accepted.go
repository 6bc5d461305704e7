package main

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/securego/gosec/v2/issue"
)

// acceptance says why what a rule finds in a file, or in a folder, may stay. A
// single line may say so itself: #nosec G115 -- why.
type acceptance struct {
	rule, where, why string
}

// accepted are all findings that stay.
var accepted = []acceptance{
	{"G304", "", "the files that the program opens are those that its user names, with the user's own rights; no request and no instrument can name one"},
	{"G115", "device/", "formats of records and blocks are cut from wider integers; each parser has a fuzz target"},
	{"G115", "logger/book/", "columns and codes are cut from wider integers; each parser has a fuzz target"},
	{"G115", "checks/video/flat.go", "an index into a record, which is shorter than 2^31"},
	{"G104", "cmd/soakline/bigfigure.go", "writing to a strings.Builder cannot fail"},
	{"G202", "logger/book/repair.go", "table names are constants of the program"},
	{"G204", "cmd/soakline/simulated.go", "the program starts itself"},
	{"G204", "cmd/soakline/standby.go", "the program starts itself"},
	{"G204", "cmd/soakline/doctorbundle.go", "the system's own journal, with constant arguments and no shell"},
	{"G302", "cmd/soakline/bookexport.go", "an export is made to be handed on; the umask decides"},
	{"G301", "cmd/soakline/discovery.go", "a scraper of another user has to read what lies there"},
	{"G306", "cmd/soakline/discovery.go", "a scraper of another user has to read it; an address is no secret"},
	{"G301", "config/graphing.go", "another user's graph server has to read what lies there"},
	{"G306", "config/graphing.go", "another user's graph server has to read it; rules and dashboards are no secret"},
	{"G204", "logger/notify/command.go", "the owner's own command from bench.yaml, without a shell, the notice on its standard input"},
	{"G115", "logger/notify/disk_unix.go", "a block's size is not negative"},
	{"G124", "logger/page/token.go", "Secure is set where the page is served over TLS; without TLS a cookie with it would not come back"},
	{"G404", "device/simbench/", "simulated noise has to come out the same twice"},
}

// sift returns what is not accepted, and the acceptances that accept nothing.
func sift(root string, found []*issue.Issue) (left []*issue.Issue, unused []acceptance) {
	used := make([]bool, len(accepted))
	for _, one := range found {
		file, err := filepath.Rel(root, one.File)
		if err != nil {
			file = one.File
		}
		one.File = filepath.ToSlash(file)
		at := slices.IndexFunc(accepted, func(a acceptance) bool {
			return a.rule == one.RuleID && strings.HasPrefix(one.File, a.where)
		})
		if at < 0 {
			left = append(left, one)
			continue
		}
		used[at] = true
	}
	for i, a := range accepted {
		if !used[i] {
			unused = append(unused, a)
		}
	}
	return left, unused
}
