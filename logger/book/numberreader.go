package book

import (
	"fmt"
)

// numberReader reads of a block what a chart needs: times and values. Where all
// are digits of one exponent it computes with coefficients, which is quicker, and
// exact.
type numberReader struct {
	blockReader
	at, coefficients []int64
	exponent         int32
	whole            bool // coefficients and exponent hold; else figures
	figures          []figure
}

// addBlock adds the readings of a block to cells.
func (n *numberReader) addBlock(cells []summary, q *envelopeQuery, cut cutBlock, data []byte) error {
	body, err := cutSum(data)
	if err != nil {
		return err
	}
	if cut.once {
		done, err := n.addHalves(cells[cut.cell:cut.cell+2], q.series.id, q.grid.edge(cut.cell+1), body)
		if done || err != nil {
			return err
		}
	}
	if err := n.read(q.series.id, body); err != nil {
		return err
	}
	n.addTo(cells, q.grid)
	return nil
}

// count begins a block of a series, and makes room.
func (n *numberReader) count(series int64, body []byte) error {
	count := n.begin(body)
	if n.err == nil && n.series != series {
		n.err = fmt.Errorf("it is of series %d", n.series)
	}
	if n.err != nil {
		return n.err
	}
	if cap(n.at) < count {
		n.at, n.coefficients = make([]int64, mostInBlock), make([]int64, mostInBlock)
	}
	n.at, n.coefficients = n.at[:count], n.coefficients[:count]
	return nil
}

// read takes a block apart.
func (n *numberReader) read(series int64, body []byte) (err error) {
	if err := n.count(series, body); err != nil {
		return err
	}
	n.times(n.at)
	if n.numbers() {
		return n.err
	}
	n.figures, err = n.blockReader.figures(n.figures[:0], body)
	return err
}

// numbers reads the coefficients of a block after its times; false if they do not tell
// its values.
func (n *numberReader) numbers() bool {
	kind, plain := n.constant()
	exponent, one := n.constant()
	if n.err == nil && plain && one && kind == int64(figureDecimal) && exponent == int64(int32(exponent)) { // #nosec G115 -- what is checked
		n.whole, n.exponent = true, int32(exponent) // #nosec G115 -- checked above
		n.column(n.coefficients)
		return true
	}
	n.whole = false
	return false
}

// addTo adds what was read to the cells of a grid.
func (n *numberReader) addTo(cells []summary, g grid) {
	if !n.whole {
		q := envelopeQuery{grid: g}
		q.addFigures(cells, g.of(n.figures))
		return
	}
	at, coefficients := n.at, n.coefficients
	for len(at) > 0 && at[0] < g.from {
		at, coefficients = at[1:], coefficients[1:]
	}
	for len(at) > 0 && at[0] < g.until {
		i := g.index(at[0])
		end := g.edge(i + 1)
		k := 1
		for k < len(at) && at[k] < end {
			k++
		}
		cells[i].add(n.summarize(coefficients[:k], at[0], at[k-1]))
		at, coefficients = at[k:], coefficients[k:]
	}
}

// summarize is of readings from first to last.
func (n *numberReader) summarize(coefficients []int64, first, last int64) summary {
	low, high, sum := coefficients[0], coefficients[0], wholeSum{}
	for _, c := range coefficients {
		low, high = min(low, c), max(high, c)
		sum.add(c)
	}
	return summary{
		count: int64(len(coefficients)), first: first, last: last,
		low: decimalValue(low, n.exponent), high: decimalValue(high, n.exponent), sum: sum.value(n.exponent),
	}
}

// constant reads a column whose numbers are all the same; if it is another, ok is
// false and nothing is read.
func (r *blockReader) constant() (v int64, ok bool) {
	if len(r.rest) < 2 || r.rest[0] != predictNone || r.rest[1] != 0 {
		return 0, false
	}
	r.rest = r.rest[2:]
	return r.varint(), true
}

// wholeSum adds coefficients up; what 64 bits cannot hold is rounded.
type wholeSum struct {
	low  int64
	high float64 // what would not fit, in coefficients
}

func (s *wholeSum) add(c int64) {
	sum := s.low + c
	if (s.low^sum)&(c^sum) < 0 { // beyond 64 bits
		s.high += float64(s.low)
		sum = c
	}
	s.low = sum
}

func (s *wholeSum) value(exponent int32) float64 {
	if s.high == 0 {
		return decimalValue(s.low, exponent)
	}
	return s.high*pow10(exponent) + decimalValue(s.low, exponent)
}
