package config

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"soakline/checks"
)

// seed gives the fuzzer every file there is.
func seed(f *testing.F) {
	for _, pattern := range []string{"testdata/good/*.yaml", "testdata/wrong/*.yaml", "sheets/*.yaml", "commandsets/*.yaml", "demo/*.yaml"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			f.Fatalf("%s: %d files, %v", pattern, len(files), err)
		}
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(text)
		}
	}
}

// consistent checks what holds of any outcome: an error is made of mistakes alone,
// and each of them names the file and says something.
func consistent(t *testing.T, err error) {
	t.Helper()
	all := Mistakes(err)
	if err != nil && len(all) == 0 {
		t.Errorf("an error without mistakes: %v", err)
	}
	for _, m := range all {
		if m.File == "" || m.Sentence == "" || m.Line < 0 {
			t.Errorf("mistake %+v says too little", m)
		}
	}
}

func FuzzParseSheet(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		sheet, err := ParseSheet("f", text)
		consistent(t, err)
		if err != nil {
			return
		}
		written, err := FormatSheet(sheet)
		if err != nil {
			t.Fatalf("a sheet that was read cannot be written: %v", err)
		}
		back, err := ParseSheet("f", written)
		if diff := cmp.Diff(sheet, back, cmpopts.EquateNaNs(), cmpopts.IgnoreFields(checks.Sheet{}, "Hash")); diff != "" || err != nil {
			t.Errorf("%v\n(-written +read):\n%s\n%s", err, diff, written)
		}
	})
}

func FuzzParseCommandSet(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		set, err := ParseCommandSet("f", text)
		consistent(t, err)
		if err == nil && set.Validate() != nil {
			t.Errorf("a set was read that is not valid: %v", set.Validate())
		}
	})
}

func FuzzLoadBench(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := newLoader(inside(shippedFiles, "demo"), nil).load("f", text, nil)
		consistent(t, err)
		if err == nil && b.Settings.Validate() != nil {
			t.Errorf("a bench was read that is not valid: %v", b.Settings.Validate())
		}
	})
}
