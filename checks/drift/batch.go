package drift

import "sort"

// MaxBatches is how many batch means a series keeps at most.
const MaxBatches = 512

// batch is a sum of readings: their times and values about the first reading.
type batch struct{ t, x float64 }

// Batches keeps a record of any length as at most MaxBatches means of equally many
// readings each. When the places are used up, neighbours are merged and the
// batches grow twice as long, so that memory stays constant (8 KiB) and more than
// half of the places are always of use. The zero value is ready.
type Batches struct {
	closed [MaxBatches]batch
	count  int
	size   int // readings in a closed batch
	open   batch
	inOpen int
	origin batch
}

// Add takes a reading at t seconds.
func (b *Batches) Add(t, x float64) {
	if b.size == 0 {
		b.size, b.origin = 1, batch{t, x}
	}
	b.open.t += t - b.origin.t
	b.open.x += x - b.origin.x
	if b.inOpen++; b.inOpen < b.size {
		return
	}
	b.closed[b.count] = b.open
	b.open, b.inOpen = batch{}, 0
	if b.count++; b.count == MaxBatches {
		b.halve()
	}
}

func (b *Batches) halve() {
	for i := range MaxBatches / 2 {
		first, second := b.closed[2*i], b.closed[2*i+1]
		b.closed[i] = batch{first.t + second.t, first.x + second.x}
	}
	b.count, b.size = MaxBatches/2, 2*b.size
}

// Means returns the mean time and value of each full batch, merged to at most most
// of them, and how many readings are in each. Readings that do not fill a last
// batch are left out.
func (b *Batches) Means(most int) (t, x []float64, size int) {
	return b.means(b.count, most)
}

// meansBefore is Means of the batches that lie before a time.
func (b *Batches) meansBefore(until float64, most int) (t, x []float64, size int) {
	count := sort.Search(b.count, func(i int) bool {
		return b.origin.t+b.closed[i].t/float64(b.size) >= until
	})
	return b.means(count, most)
}

func (b *Batches) means(count, most int) (t, x []float64, size int) {
	return b.appendMeans(nil, nil, count, most)
}

// appendMeans appends to slices, so that room which is there can be used.
func (b *Batches) appendMeans(t, x []float64, count, most int) ([]float64, []float64, int) {
	merge := 1
	for count/merge > most {
		merge *= 2
	}
	size := b.size * merge
	for i := 0; i+merge <= count; i += merge {
		var sum batch
		for _, part := range b.closed[i : i+merge] {
			sum.t += part.t
			sum.x += part.x
		}
		t = append(t, b.origin.t+sum.t/float64(size))
		x = append(x, b.origin.x+sum.x/float64(size))
	}
	return t, x, size
}
