package device_test

import (
	"os"
	"testing"

	"go.uber.org/goleak"
)

// Whoever starts a goroutine stops it.
func TestMain(m *testing.M) {
	if os.Getenv(simulatorEnv) != "" {
		os.Exit(simulate())
	}
	goleak.VerifyTestMain(m)
}
