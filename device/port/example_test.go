package port_test

import (
	"context"
	"errors"
	"fmt"
	"time"

	"soakline/device/port"
)

// A question is asked under a deadline, and trouble says what to do about it.
func Example() {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	line := port.Settings{Baud: 115200, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none"}
	p, err := port.Open(ctx, "/dev/no-such-adapter", line)
	if trouble, ok := errors.AsType[*port.Error](err); ok {
		fmt.Println(trouble.Kind, trouble.Transient())
		fmt.Println(trouble.Hint)
		return
	}
	defer p.Close()
	if err := p.Write(ctx, []byte("*IDN?\n")); err != nil {
		fmt.Println(err)
	}
	// Output:
	// absent true
	// Plug the adapter in or switch the server on; soakline ports shows what is there.
}
