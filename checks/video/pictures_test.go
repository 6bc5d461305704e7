package video_test

import "math"

// Pictures, as what stands on one line.

func flatPicture(luma float64) func(int) []patch {
	return func(int) []patch { return []patch{{luma: luma}} }
}

var (
	white = flatPicture(1)
	black = flatPicture(0)
	grey  = flatPicture(0.5)
)

// staircase has steps from black to white in equal risers.
func staircase(risers int) func(int) []patch {
	return func(int) []patch {
		var p []patch
		for k := range risers + 1 {
			p = append(p, patch{from: float64(k) / float64(risers+1), luma: float64(k) / float64(risers)})
		}
		return p
	}
}

// bars are eight colour bars: the white bar at the level given, colours at amplitude
// a with luma weights 0.299, 0.587, 0.114 (BT.470-6). Chroma gains 0.493 and 0.877.
func bars(whiteBar, a, span float64) func(int) []patch {
	rgb := [8][3]float64{{1, 1, 1}, {1, 1, 0}, {0, 1, 1}, {0, 1, 0}, {1, 0, 1}, {1, 0, 0}, {0, 0, 1}, {0, 0, 0}}
	return func(line int) []patch {
		p := make([]patch, 8)
		for k, c := range rgb {
			y := 0.299*c[0] + 0.587*c[1] + 0.114*c[2]
			u, v := 0.493*(c[2]-y), 0.877*(c[0]-y)
			p[k] = patch{from: float64(k) / 8, luma: a * y, chroma: 2 * span * a * math.Hypot(u, v), phase: math.Atan2(v, u)}
			if k == 0 {
				p[k].luma, p[k].chroma = whiteBar, 0
			}
			if k == 7 {
				p[k].chroma = 0
			}
		}
		return p
	}
}

// stripes alternates two levels, n pairs in a line.
func stripes(n int, low, high float64) func(int) []patch {
	return func(int) []patch {
		var p []patch
		for k := range n {
			p = append(p, patch{from: float64(k) / float64(n), luma: high}, patch{from: (float64(k) + 0.5) / float64(n), luma: low})
		}
		return p
	}
}

// window is a white box on black, on the middle of the line.
func windowPicture(int) []patch {
	return []patch{{luma: 0}, {from: 0.3, luma: 1}, {from: 0.7, luma: 0}}
}

// dark is a dim scene: nothing above a third.
func dark(line int) []patch {
	return []patch{{luma: 0.05}, {from: 0.2, luma: 0.3}, {from: 0.45, luma: 0.12, chroma: 0.1, phase: 1}, {from: 0.7, luma: 0.33}, {from: 0.9, luma: 0}}
}

// multiburst is a white flag and six packets about grey (frequencies from memory).
func multiburst(hertz ...float64) func(int) []patch {
	return func(int) []patch {
		p := []patch{{luma: 1}}
		for k, f := range hertz {
			from := 0.12 + float64(k)*0.88/float64(len(hertz))
			p = append(p, patch{from: from, luma: 0.5, wave: f, swing: 0.42})
		}
		return p
	}
}

// game is a sky, a white cloud, a coloured ground and a dark border: few flats.
func game(line int) []patch {
	p := []patch{{luma: 0}, {from: 0.06, luma: 0.55, chroma: 0.25, phase: 2}}
	if line%3 != 2 {
		p = append(p, patch{from: 0.4, luma: 1}, patch{from: 0.5, luma: 0.55, chroma: 0.25, phase: 2})
	}
	return append(p, patch{from: 0.72, luma: 0.2, chroma: 0.4, phase: 0.5}, patch{from: 0.94, luma: 0})
}
