package book

// mostPlanes bounds the planes of times of which the highest alone is looked at.
const mostPlanes = 4

// coarseTimes are the times of a block as far as the highest plane of them tells.
type coarseTimes struct {
	line  timeline
	unit  int64
	base  int64
	shift int // bits below the plane
	plane []byte
}

// coarseTimes reads the highest plane of a block's times and passes over the others;
// false if it is not so simple.
func (r *blockReader) coarseTimes(count int) (t coarseTimes, ok bool) {
	t.unit = int64(r.uvarint()) // #nosec G115 -- any number will do
	t.line = timeline{start: r.varint(), slope: r.varint()}
	kind, width := r.byte(), int(r.byte())
	t.base = r.varint()
	if r.err != nil || kind != predictNone || width < 1 || width > mostPlanes {
		return t, false
	}
	t.shift = 8 * (width - 1)
	for range width - 1 {
		r.passPlane(count)
	}
	t.plane = r.plane(count)
	r.unpackPlane(t.plane)
	return t, r.err == nil
}

// passPlane goes beyond a plane of so many bytes.
func (r *blockReader) passPlane(count int) {
	switch r.byte() {
	case planeRaw:
		r.bytes(count)
	case planeOne:
		r.byte()
	default:
		r.bytes(r.length())
	}
}

// before returns how many of the times, which are in order, are before a moment; false
// where the lower planes would decide.
func (t *coarseTimes) before(at int64) (n int, ok bool) {
	low, high := 0, len(t.plane)
	for low < high {
		middle := int(uint(low+high) >> 1) // #nosec G115 -- indices
		earliest := t.line.at(middle) + t.base + int64(t.plane[middle])<<t.shift
		latest := earliest + 1<<t.shift - 1
		switch {
		case latest*t.unit < at:
			low = middle + 1
		case earliest*t.unit >= at:
			high = middle
		default:
			return 0, false
		}
	}
	return low, true
}

// addHalves adds the readings of a block that an edge cuts to the cells on both sides,
// without a look at each time: of most, the highest plane tells on which side they are.
// False if it does not suffice, or the values are no digits of one exponent.
func (n *numberReader) addHalves(cells []summary, series, edge int64, body []byte) (done bool, err error) {
	if err := n.count(series, body); err != nil {
		return false, err
	}
	times, ok := n.coarseTimes(len(n.at))
	if !ok {
		return false, n.err
	}
	k, ok := times.before(edge)
	if !ok || !n.numbers() || n.err != nil {
		return false, n.err
	}
	if k > 0 {
		cells[0].add(n.summarize(n.coefficients[:k], edge-1, edge-1))
	}
	if k < len(n.at) {
		cells[1].add(n.summarize(n.coefficients[k:], edge, edge))
	}
	return true, nil
}
