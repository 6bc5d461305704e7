package config

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// longestSpelled bounds what is compared: nobody means a known name by a longer
// word, and the distance costs the product of both lengths.
const longestSpelled = 64

// nearest returns the known word closest to the one given, or "" if none is near
// enough to be what was meant: at most a third of the longer word's letters may
// differ, or one, but never all that was given. Case counts for nothing.
func nearest(given string, known []string) string {
	if len(given) > longestSpelled {
		return ""
	}
	letters := utf8.RuneCountInString(given)
	best, least := "", letters
	for _, k := range slices.Sorted(slices.Values(known)) {
		most := max(1, max(letters, utf8.RuneCountInString(k))/3)
		if d := distance(strings.ToLower(given), strings.ToLower(k)); d <= most && d < least {
			best, least = k, d
		}
	}
	return best
}

// distance is the number of letters to add, take out, exchange or swap with their
// neighbour to turn a into b (restricted Damerau-Levenshtein distance).
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(s); i++ {
		row[0] = i
		for j := 1; j <= len(t); j++ {
			change := 1
			if s[i-1] == t[j-1] {
				change = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(t)]
}
