// Package supply measures a rail from a scope record or from slow meter readings:
// its DC level, its ripple and what the ripple's frequency says about the rectifier,
// dropouts and brown-outs, the start after power-on, and what a step of the load
// does.
//
// Analyse takes a record as a whole; DipWatch finds dropouts and brown-outs among
// readings as they come; AnalyseLoadStep takes a record triggered on a load that is
// switched. The capacitor behind the ripple is the subject of package reservoir.
package supply
