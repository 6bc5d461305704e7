package drift

// residualLag1 returns the autocorrelation of neighbouring residuals about a
// fitted line, corrected for what the fit and the small number take away: about
// (2 + 4 r)/n (Marriott and Pope, Biometrika 41, 1954, for the mean; for a line
// from memory). It is 0 where there is no spread, and kept within -1 and 0.999.
func residualLag1(residuals []float64) float64 {
	r := autocorrelation(residuals, 1)
	return correctedLag1(r, len(residuals))
}

func correctedLag1(r float64, n int) float64 {
	return min(max(r+(2+4*r)/float64(n), -1), 0.999)
}

// autocorrelation returns that of residuals lag apart; 0 where there is no spread.
func autocorrelation(residuals []float64, lag int) float64 {
	var squares, products compensated
	for i, d := range residuals {
		squares.addProduct(d, d)
		if i >= lag {
			products.addProduct(d, residuals[i-lag])
		}
	}
	if !(squares.value() > 0) {
		return 0
	}
	return products.value() / squares.value()
}

// inflation is how many times the variance of the mean of many readings is that of
// independent ones, (1 + r)/(1 - r) for a first order process; at least 1, so that
// a negative r never makes anything look surer.
func inflation(r float64) float64 {
	r = max(r, 0)
	return (1 + r) / (1 - r)
}
