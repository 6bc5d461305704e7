//go:build race

package drift

func init() { raceDetector = true }
