// Command soakline watches refurbished home computers and consoles on the bench:
// it reads instruments over serial, judges what they say against a test sheet,
// keeps everything and gives the verdict at the end of a soak.
package main

func main() {}
