package logger

import "soakline/checks"

// noticed is what the records of one test point have had to say.
type noticed struct {
	order []checks.FindingCode
	last  map[checks.FindingCode]checks.Finding
	times map[checks.FindingCode]int
}

// add takes the findings of one record.
func (n *noticed) add(findings []checks.Finding) {
	if n.last == nil {
		n.last, n.times = map[checks.FindingCode]checks.Finding{}, map[checks.FindingCode]int{}
	}
	for _, f := range findings {
		if n.times[f.Code] == 0 {
			n.order = append(n.order, f.Code)
		}
		n.last[f.Code] = f
		n.times[f.Code]++
	}
}

// byMost are the findings that at least half of the records agree on, in the words
// of the last that had each: one record that fell on an odd part of the picture is
// no finding, and hides none.
func (n *noticed) byMost(records int) []checks.Finding {
	var agreed []checks.Finding
	for _, code := range n.order {
		if 2*n.times[code] >= records {
			agreed = append(agreed, n.last[code])
		}
	}
	return agreed
}
