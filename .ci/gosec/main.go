// Command gosec looks through the project for what tends to go wrong in security
// and prints what accepted.go gives no reason for. Its one argument is the
// project's folder.
package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"
	"slices"

	"github.com/securego/gosec/v2"
	"github.com/securego/gosec/v2/analyzers"
	"github.com/securego/gosec/v2/issue"
	"github.com/securego/gosec/v2/rules"
	"golang.org/x/tools/go/packages"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: gosec FOLDER")
		os.Exit(2)
	}
	if err := run(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// run loads all packages at once: one by one their imports would be read again for
// each.
func run(folder string) error {
	root, err := filepath.Abs(folder)
	if err != nil {
		return err
	}
	loaded, err := packages.Load(&packages.Config{Mode: gosec.LoadMode, Dir: root}, "./...")
	if err != nil {
		return err
	}
	found, err := look(loaded)
	if err != nil {
		return err
	}
	left, unused := sift(root, found)
	for _, one := range left {
		fmt.Printf("%s:%s:%s: %s %s\n", one.File, one.Line, one.Col, one.RuleID, one.What)
	}
	for _, reason := range unused {
		fmt.Printf("accepted.go: nothing to accept any more of %s in %q\n", reason.rule, reason.where)
	}
	if len(left)+len(unused) > 0 {
		return errors.New("mend these, or say in .ci/gosec/accepted.go why they may stay")
	}
	return nil
}

// look runs every rule over every package.
func look(loaded []*packages.Package) ([]*issue.Issue, error) {
	if len(loaded) == 0 {
		return nil, errors.New("no packages were found")
	}
	analyzer := gosec.NewAnalyzer(gosec.NewConfig(), false, false, false, 1, log.New(io.Discard, "", 0))
	analyzer.LoadRules(rules.Generate(false).RulesInfo())
	analyzer.LoadAnalyzers(analyzers.Generate(false).AnalyzersInfo())
	for _, one := range loaded {
		for _, err := range one.Errors {
			return nil, err
		}
		analyzer.CheckRules(one)
		analyzer.CheckAnalyzers(one)
	}
	found, _, _ := analyzer.Report()
	slices.SortFunc(found, func(a, b *issue.Issue) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(len(a.Line), len(b.Line)), cmp.Compare(a.Line, b.Line))
	})
	return found, nil
}
