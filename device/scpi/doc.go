// Package scpi speaks the language of bench instruments over a byte stream:
// program messages, response messages, numbers, blocks, strings and the error
// queue of IEEE 488.2 and SCPI-1999. It knows no serial port and no reading.
package scpi
