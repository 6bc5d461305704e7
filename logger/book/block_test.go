package book

import "testing"

// TestBlockIsSmall: what the information in it allows, 1.9 bytes a reading, and not
// much more.
func TestBlockIsSmall(t *testing.T) {
	readings := newWorkload(1).read(16 * 1900)
	w := newBlockWriter()
	total := 0
	for point := range 16 {
		total += len(w.append(nil, 1, figuresOf(t, readings, point), &clause{}))
	}
	if perReading := float64(total) / float64(len(readings)); perReading > 2.1 {
		t.Errorf("%.2f bytes a reading", perReading)
	}
}
