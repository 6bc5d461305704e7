// Package report puts what the book knows on paper: certificate, comparison and
// history, with their plots. Drawings are SVG or PNG in the look of the page (ink
// on paper, sea-green rulers, the baseline in ochre); the same input gives the
// same bytes.
package report
