package main

import (
	"encoding/json"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"soakline/logger/book"
)

// secondBench runs a short demo in another folder meanwhile; what it returns waits for
// its end and says where its book is.
func secondBench(t *testing.T) func() string {
	t.Helper()
	dir := t.TempDir()
	demo := start(t, binary(t), "demo", "--for", "20s", "--dir", dir)
	return func() string {
		for {
			if _, err := demo.lines.ReadString('\n'); err != nil {
				break
			}
		}
		_ = demo.Wait() // 20 s are too short for the verdicts that a demo is to end with
		found, err := filepath.Glob(filepath.Join(dir, "*.book"))
		if err != nil || len(found) != 1 {
			t.Fatalf("books of the second demo: %v (%v)\n%s", found, err, demo.log)
		}
		return found[0]
	}
}

// checkMerged takes the books of two benches, whose units have the same asset numbers,
// over into a third: everything is judged there as at its bench, to the last bit, and
// told apart where it has to be.
func checkMerged(t *testing.T, first, second string) {
	t.Helper()
	line := filepath.Join(t.TempDir(), "line.book")
	command := func(want int, args ...string) string {
		t.Helper()
		cmd := exec.Command(binary(t), args...)
		output, err := cmd.CombinedOutput()
		if code := exitCode(err); code != want {
			t.Fatalf("soakline %s ended with %d, want %d:\n%s", strings.Join(args, " "), code, want, output)
		}
		return string(output)
	}
	command(exitDone, "book", "import", first, "--book", line)
	refused := command(exitUsage, "book", "import", second, "--book", line)
	if !strings.Contains(refused, "unit B8-0147 here (Brambling 8, booked in ") || !strings.Contains(refused, "--same-units") {
		t.Errorf("two units of one number: %s", refused)
	}
	command(exitDone, "book", "import", second, "--book", line, "--rename", "B8-0147=B8-0147Q", "--rename", "CC-0031=CC-0031Q")
	for _, again := range []string{first, second} {
		if said := command(exitDone, "book", "import", again, "--book", line); !strings.Contains(said, "  0 new, ") {
			t.Errorf("a second time: %s", said)
		}
	}
	if said := command(exitDone, "book", "check", "--book", line); !strings.Contains(said, "nothing is wrong with it") {
		t.Errorf("the check says %s", said)
	}
	compareJudged(t, line, first, second)
	for _, args := range [][]string{{"history", "--unit", "CC-0031Q"}, {"line"}, {"report", "--unit", "CC-0031", "-o", filepath.Join(t.TempDir(), "paper.pdf")},
		{"report", "--unit", "CC-0031Q", "-o", filepath.Join(t.TempDir(), "paper.html")}} {
		command(exitDone, append(args, "--book", line)...)
	}
	paper := printedLink(t, first)
	command(exitDone, "book", "check", "--book", line, "--chain", paper)
}

// printedLink is the last link of a book's chain as a paper shows it.
func printedLink(t *testing.T, path string) string {
	t.Helper()
	b, err := book.Open(t.Context(), path, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	head, err := b.ChainHead(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return strconv.FormatInt(head.Position, 10) + ":" + head.ShortHash()
}

// compareJudged judges every soak and final test in the merged book and where it came
// from.
func compareJudged(t *testing.T, line string, from ...string) {
	t.Helper()
	soak, final := 0, 0
	for _, source := range from {
		for n := 1; ; n++ {
			there, ok := judgedAs(t, source, n)
			if !ok {
				break
			}
			soak++
			here, _ := judgedAs(t, line, soak)
			there["soak"], there["unit"] = here["soak"], here["unit"] // numbers are each book's own
			if a, b := asText(t, there), asText(t, here); a != b {
				t.Errorf("soak %d of %s is judged\n%s\nin the merged book, and\n%s\nwhere it was", n, source, b, a)
			}
		}
		for n := 1; ; n++ {
			if _, ok := judgedAs(t, source, n, "--final"); !ok {
				break
			}
			final++
			if here, _ := judgedAs(t, line, final, "--final"); here["same"] != true {
				t.Errorf("final test %d of %s is judged otherwise in the merged book: %v", n, source, here["changes"])
			}
		}
	}
	if soak != 4 || final != 4 {
		t.Errorf("%d soaks and %d final tests were compared, want 4 and 4", soak, final)
	}
}

// judgedAs is what judge says of a soak or final test; ok is false if there is none of
// that number.
func judgedAs(t *testing.T, bookPath string, number int, more ...string) (judged map[string]any, ok bool) {
	t.Helper()
	output, err := exec.Command(binary(t), append([]string{"judge", strconv.Itoa(number), "--book", bookPath, "--json"}, more...)...).Output()
	if exitCode(err) == exitTrouble {
		return nil, false
	}
	if err := json.Unmarshal(output, &judged); err != nil {
		t.Fatalf("judge %d of %s: %v\n%s", number, bookPath, err, output)
	}
	return judged, true
}

func asText(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
