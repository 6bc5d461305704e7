//go:build race

package ship

// raceDetector tells that the tests run under the race detector, which takes memory
// and time of its own.
const raceDetector = true
