// Package porttest gives tests the far end of a serial line: a pseudo-terminal
// whose plug can be pulled and put back, and a serial server on loopback TCP.
// Neither knows what is spoken on it. Everything ends with the test.
package porttest
