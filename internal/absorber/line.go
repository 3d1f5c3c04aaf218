package absorber

// mean is the mean of the values by their weights; all weigh the same without any.
func mean(values, weights []float64) float64 {
	sum, total := 0.0, 0.0
	for i, v := range values {
		w := 1.0
		if weights != nil {
			w = weights[i]
		}
		sum, total = sum+float64(w*v), total+w
	}
	return sum / total
}

// lineThrough is the straight line y = a + b x of the least sum of weighted squares.
func lineThrough(x, y, weights []float64) (a, b float64) {
	atX, atY := mean(x, weights), mean(y, weights)
	sum, squares := 0.0, 0.0
	for i := range x {
		sum += float64(weights[i] * float64((x[i]-atX)*(y[i]-atY)))
		squares += float64(weights[i] * float64((x[i]-atX)*(x[i]-atX)))
	}
	b = sum / squares
	return atY - float64(b*atX), b
}

// slopeThrough is the slope of such a line through the origin.
func slopeThrough(x, y, weights []float64) float64 {
	sum, squares := 0.0, 0.0
	for i := range x {
		sum += float64(weights[i] * float64(x[i]*y[i]))
		squares += float64(weights[i] * float64(x[i]*x[i]))
	}
	return sum / squares
}
