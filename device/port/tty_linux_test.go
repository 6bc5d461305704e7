package port

// The kernel tells who has a terminal exclusively.
const exclusiveCanBeAsked = true
