package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// floors lists the house from the top down; imports may only go down.
var floors = []string{"cmd", "config", "logger", "checks", "device"}

// steps are the stairs inside a floor: a package may import only packages on a
// lower step of its own floor, or none where it has no entry here.
var steps = map[string]int{
	"checks/pulse": 0, "checks/drift": 0, "checks/parts": 0, "checks/capability": 0,
	"checks":       1,
	"checks/video": 2, "checks/supply": 2, "checks/reservoir": 2, "checks/audio": 2,

	"logger/book":    0,
	"logger":         1,
	"logger/ship":    1,
	"logger/metrics": 2, "logger/notify": 2, "logger/report": 2,
	"logger/page": 3,

	"device/scpi": 0, "device/port": 0,
	"device": 1,
}

// packageFiles parses every Go file of the project, by folder.
func packageFiles(t *testing.T) map[string]map[string]*ast.File {
	t.Helper()
	root := filepath.Join("..", "..")
	found := map[string]map[string]*ast.File{}
	err := filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if entry.IsDir() {
			if name := entry.Name(); rel != "." && (strings.HasPrefix(name, ".") || name == "node_modules" || name == "testdata") {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(path, ".go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		folder := filepath.ToSlash(filepath.Dir(rel))
		if found[folder] == nil {
			found[folder] = map[string]*ast.File{}
		}
		found[folder][filepath.Base(path)] = file
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(found) < 10 {
		t.Fatalf("only %d folders with Go files were found: the walk is broken", len(found))
	}
	return found
}

func floorOf(folder string) int {
	top, _, _ := strings.Cut(folder, "/")
	for i, floor := range floors {
		if floor == top {
			return i
		}
	}
	return -1
}

// mayImport tells whether a package in one folder may import one in another.
func mayImport(from, to string) bool {
	if strings.HasPrefix(from, "device/simbench") {
		return strings.HasPrefix(to, "device/simbench")
	}
	a, b := floorOf(from), floorOf(to)
	if a < 0 || b < 0 || a > b {
		return false
	}
	if a < b || strings.HasPrefix(to, from+"/") && !inStairs(from) {
		return true
	}
	fromStep, known := steps[from]
	toStep, alsoKnown := steps[to]
	if strings.HasPrefix(from, to+"/") && !inStairs(from) {
		return true // a test folder (scpitest, porttest) serves its parent's readers
	}
	return known && alsoKnown && toStep < fromStep
}

func inStairs(folder string) bool {
	_, known := steps[folder]
	return known
}

// TestImportsRunOneWay holds the project's main rule: cmd -> config -> logger ->
// checks -> device, and the stairs inside each. Files of tests are held to the
// floors only.
func TestImportsRunOneWay(t *testing.T) {
	for folder, files := range packageFiles(t) {
		for name, file := range files {
			for _, spec := range file.Imports {
				path, err := strconv.Unquote(spec.Path.Value)
				if err != nil {
					t.Fatal(err)
				}
				target, ours := strings.CutPrefix(path, "soakline/")
				if !ours || target == folder {
					continue
				}
				if strings.HasSuffix(name, "_test.go") {
					if floorOf(folder) > floorOf(target) {
						t.Errorf("%s/%s imports %s, which is a floor above", folder, name, target)
					}
					continue
				}
				if !mayImport(folder, target) {
					t.Errorf("%s/%s imports %s", folder, name, target)
				}
			}
		}
	}
}

// TestMayImport shows that the rule can say no.
func TestMayImport(t *testing.T) {
	for _, row := range []struct {
		from, to string
		want     bool
	}{
		{"cmd/soakline", "config", true},
		{"cmd/soakline", "device/port", true},
		{"config", "logger", true},
		{"logger", "logger/book", true},
		{"logger/book", "logger", false},
		{"logger/metrics", "logger", true},
		{"logger", "logger/metrics", false},
		{"logger/ship", "logger/book", true},
		{"checks", "device", true},
		{"checks", "checks/drift", true},
		{"checks/drift", "checks", false},
		{"checks/video", "checks/pulse", true},
		{"checks/video", "checks/supply", false},
		{"device", "device/scpi", true},
		{"device/scpi", "device", false},
		{"device/scpi", "device/port", false},
		{"device/scpi/scpitest", "device/scpi", true},
		{"device", "checks", false},
		{"checks", "logger", false},
		{"logger", "config", false},
		{"device/simbench", "device/scpi", false},
		{"device/simbench", "checks/video", false},
	} {
		if got := mayImport(row.from, row.to); got != row.want {
			t.Errorf("mayImport(%s, %s) = %v", row.from, row.to, got)
		}
	}
}

// TestSimulatedBenchSharesNothing: a simulated instrument that parsed or measured
// with the readers' own code would agree with their mistakes.
func TestSimulatedBenchSharesNothing(t *testing.T) {
	for folder, files := range packageFiles(t) {
		if !strings.HasPrefix(folder, "device/simbench") {
			continue
		}
		for name, file := range files {
			for _, spec := range file.Imports {
				if path := strings.Trim(spec.Path.Value, `"`); strings.HasPrefix(path, "soakline/") && !strings.HasPrefix(path, "soakline/device/simbench") {
					t.Errorf("%s/%s imports %s", folder, name, path)
				}
			}
		}
	}
}

// TestOnePackageComment: each package is introduced once.
func TestOnePackageComment(t *testing.T) {
	for folder, files := range packageFiles(t) {
		comments := 0
		code := 0
		for name, file := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			code++
			if file.Doc != nil && !strings.HasPrefix(file.Doc.Text(), "Code generated") {
				comments++
			}
		}
		if code > 0 && comments != 1 {
			t.Errorf("%s has %d package comments, want 1", folder, comments)
		}
	}
}

// TestNoSleepInTests: a test waits for an event, or runs in a bubble of
// testing/synctest where sleeping takes no time.
func TestNoSleepInTests(t *testing.T) {
	for folder, files := range packageFiles(t) {
		for name, file := range files {
			if !strings.HasSuffix(name, "_test.go") || imports(file, "testing/synctest") {
				continue
			}
			ast.Inspect(file, func(node ast.Node) bool {
				call, ok := node.(*ast.SelectorExpr)
				if ok && call.Sel.Name == "Sleep" {
					if from, ok := call.X.(*ast.Ident); ok && from.Name == "time" {
						t.Errorf("%s/%s sleeps", folder, name)
					}
				}
				return true
			})
		}
	}
}

func imports(file *ast.File, path string) bool {
	for _, spec := range file.Imports {
		if strings.Trim(spec.Path.Value, `"`) == path {
			return true
		}
	}
	return false
}
