package config

import "testing"

// The distances are worked by hand from the definition (additions, removals,
// exchanges, swaps of neighbours).
func TestDistance(t *testing.T) {
	rows := []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"meter", "meter", 0},
		{"metre", "meter", 1}, // one swap
		{"evn", "even", 1},
		{"kitten", "sitting", 3}, // the textbook pair, Levenshtein's distance in every account
		{"ca", "abc", 3},         // restricted: a swapped pair is not edited again
		{"µV", "uV", 1},
	}
	for _, row := range rows {
		if got := distance(row.a, row.b); got != row.want {
			t.Errorf("distance(%q, %q) = %d, want %d", row.a, row.b, got, row.want)
		}
		if back := distance(row.b, row.a); back != row.want {
			t.Errorf("distance(%q, %q) = %d, want %d", row.b, row.a, back, row.want)
		}
	}
}

func TestNearest(t *testing.T) {
	known := []string{"meter", "scope", "supply", "a"}
	rows := map[string]string{
		"metre": "meter", "METER": "meter", "scpoe": "scope", "supplyy": "supply",
		"b": "", "": "", "thermometer": "", "x": "",
	}
	for given, want := range rows {
		if got := nearest(given, known); got != want {
			t.Errorf("nearest(%q) = %q, want %q", given, got, want)
		}
	}
}
