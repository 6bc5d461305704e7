package devicetest

import (
	"context"
	"testing"
	"time"

	"soakline/device"
)

// Start runs a keeper until stop is called or the test ends, and fails the test if
// it does not end cleanly and soon.
func Start(t testing.TB, k *device.Keeper) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- k.Run(ctx) }()
	stopped := false
	stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		select {
		case err := <-ended:
			if err != nil {
				t.Errorf("the keeper ended with %v", err)
			}
		case <-time.After(patience):
			t.Errorf("the keeper did not end within %s", patience)
		}
	}
	t.Cleanup(stop)
	return stop
}
