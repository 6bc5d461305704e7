package simbench

import "math"

// patch is a part of the active line that stays the same: luma from 0 (black) to
// 1 (white) and the two colour-difference signals on the same scale.
type patch struct {
	seconds float64
	y, u, v float64
}

// pictureNames lists what a console can show.
func pictureNames() []string {
	return []string{"white", "black", "staircase", "bars-75", "bars-100", "stripes", "dark"}
}

// picture returns the patches of one active line of the given length.
func (c CompositeConfig) picture(active float64) []patch {
	switch c.Picture {
	case "white":
		return []patch{{seconds: active, y: 1}}
	case "staircase":
		return greys(active, 0, 0.2, 0.4, 0.6, 0.8, 1)
	case "bars-75":
		return bars(active, 0.75, c.System == "625/50")
	case "bars-100":
		return bars(active, 1, true)
	case "stripes":
		return stripes(active, c.StripeS)
	case "dark":
		return greys(active, 0.02, 0.08, 0.04, 0.12, 0.06, 0.02)
	default:
		return []patch{{seconds: active}}
	}
}

// greys divides the line evenly.
func greys(active float64, levels ...float64) []patch {
	patches := make([]patch, 0, len(levels))
	for _, y := range levels {
		patches = append(patches, patch{seconds: active / float64(len(levels)), y: y})
	}
	return patches
}

// stripes are black and white in turn, as a test screen of dots gives them.
func stripes(active, width float64) []patch {
	if width == 0 {
		width = 0.5e-6
	}
	var patches []patch
	for at, n := 0.0, 0; at < active-width; n++ {
		patches = append(patches, patch{seconds: width, y: float64(n % 2)})
		at += width
	}
	return append(patches, patch{seconds: active})
}

// bars are the eight colour bars in falling luma. The luma weights are those of
// BT.470-6 (0.299, 0.587, 0.114), the colour-difference scales 0.492111 and
// 0.877283. In the 625 family the white bar of 75 % bars stays at full white.
func bars(active, share float64, fullWhite bool) []patch {
	patches := make([]patch, 0, 8)
	for n := 7; n >= 0; n-- {
		red, green, blue := share*bit(n, 1), share*bit(n, 2), share*bit(n, 0)
		if n == 7 && fullWhite {
			red, green, blue = 1, 1, 1
		}
		y := 0.299*red + 0.587*green + 0.114*blue
		patches = append(patches, patch{
			seconds: active / 8, y: y, u: 0.492111 * (blue - y), v: 0.877283 * (red - y),
		})
	}
	return patches
}

func bit(n, place int) float64 { return math.Mod(float64(n>>place), 2) }
