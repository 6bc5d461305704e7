package device_test

import (
	"testing"

	"go.uber.org/goleak"
)

// Whoever starts a goroutine stops it.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
