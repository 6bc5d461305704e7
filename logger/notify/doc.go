// Package notify tells people what happens at a bench: a check that left its limits,
// readings that stopped, a verdict, stored charge that comes back, a disk that fills
// up. Each is told once when it begins and once when it is over, with reminders
// meanwhile where the test sheet asks for them, by webhook, by a command, or by mail.
//
// A Watcher makes notices out of what happens; a Courier takes them to one target, in
// order, again and again until the target has them, and holds them while it is quiet
// there.
package notify
