// Package page serves the bench over HTTP: its state and its commands as JSON
// under /api/v1, its metrics, and whether it is well. No request can send text to
// an instrument.
package page
