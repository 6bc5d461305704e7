// Package device reads instruments: it knows how a meter, a scope or a supply is
// asked, when an answer arrived and what was wrong with it. It knows no console,
// no unit and no limit.
//
// device/scpi speaks the language, device/port keeps the line; this package
// joins the two into readings and captures.
package device
