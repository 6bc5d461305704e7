// Package logger is the running bench: it takes readings from instruments, tags
// them by bench, console, unit and test point, has them checked, keeps them in
// the book and shows them.
package logger
