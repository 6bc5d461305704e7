// Package devicetest holds the promises that a device.Keeper keeps with every
// instrument, whether it is asked or talks, real or simulated, and a sink that
// lets tests wait for what comes.
package devicetest
