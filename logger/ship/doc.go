// Package ship sends what is in the book to engines that take line protocol over
// HTTP: at least once, in order, from where it stopped. Each target has its own
// place in the book and its own goroutine; none waits for another, and the bench
// for none.
package ship
