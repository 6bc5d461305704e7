package device_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"soakline/device/simbench"
)

// simulatorEnv makes the test's own binary, started as a child, the simulated
// bench: what it costs must not count as what reading costs.
const simulatorEnv = "SOAKLINE_TEST_SIMULATOR"

// simulate is the child's part.
func simulate() int {
	if err := simbench.Serve(context.Background(), fleet(os.Getenv(simulatorEnv), sixteen), os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

const sixteen = 16

// fleet is n meters on one rail.
func fleet(dir string, n int) simbench.Config {
	c := simulatedBench(filepath.Join(dir, "meter0"))
	first := c.Instruments[0]
	for i := 1; i < n; i++ {
		next := first
		next.Name, next.Port = fmt.Sprintf("meter%d", i), filepath.Join(dir, fmt.Sprintf("meter%d", i))
		c.Instruments = append(c.Instruments, next)
	}
	return c
}
