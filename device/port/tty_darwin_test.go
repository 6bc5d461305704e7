package port

// There is no ioctl that asks.
const exclusiveCanBeAsked = false
