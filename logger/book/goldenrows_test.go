package book

import (
	"encoding/hex"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// goldenSections are those of the tail row in testdata/rows-1.hex.
func goldenSections(t *testing.T) []section {
	t.Helper()
	figures := goldenFigures(t)
	return []section{{series: 3, figures: figures[1]}, {series: 4, whole: true}, {series: 300, whole: true, figures: figures[0][:40]}}
}

// goldenSummaries are those of the overview there, and of the thinned block.
func goldenSummaries(t *testing.T) []blockSummary {
	t.Helper()
	var all []blockSummary
	for i, figures := range goldenFigures(t) {
		all = append(all, blockSummary{id: int64(i + 1), summary: summarize(figures)})
	}
	return all
}

// TestGoldenRows: rows of the tail, of overviews and of thinned blocks that an earlier
// program wrote are read as they were.
func TestGoldenRows(t *testing.T) {
	const path = "testdata/rows-1.hex"
	sections, summaries := goldenSections(t), goldenSummaries(t)
	if *update {
		var row, told []byte
		w := newBlockWriter()
		for _, s := range sections {
			row = w.appendSection(row, s, &clause{})
		}
		for i := range summaries {
			told = appendSummary(told, &summaries[i])
		}
		text := fmt.Sprintf("%x\n%x\n%x\n", tailEncoder().EncodeAll(row, nil), appendSum(told), packThinned(goldenFigures(t)[0], 1_000_000))
		must(t, os.WriteFile(path, []byte(text), 0o644))
	}
	text, err := os.ReadFile(path)
	must(t, err)
	var rows [][]byte
	for _, line := range strings.Fields(string(text)) {
		row, err := hex.DecodeString(line)
		must(t, err)
		rows = append(rows, row)
	}
	var got []section
	must(t, (&blockReader{}).readTail(rows[0], nil, func(s section) { got = append(got, s) }))
	same := func(a, b section) bool {
		return a.series == b.series && a.whole == b.whole && slices.Equal(a.figures, b.figures)
	}
	if !slices.EqualFunc(got, sections, same) {
		t.Errorf("tail row: %+v", got)
	}
	var told []blockSummary
	must(t, readOverview(rows[1], func(s blockSummary) error { told = append(told, s); return nil }))
	if !slices.Equal(told, summaries) {
		t.Errorf("overview: %+v, want %+v", told, summaries)
	}
	var thinned summary
	must(t, readThinned(rows[2], func(s blockSummary) error { thinned.add(s.summary); return nil }))
	if want := summaries[0].summary; thinned.count != want.count || thinned.low != want.low || thinned.high != want.high || thinned.first != want.first || thinned.last != want.last {
		t.Errorf("thinned block: %+v, want %+v", thinned, want)
	}
}
