package photo

import (
	"math"
	"slices"
)

// quantile is the q-th part of the values in order, 0 to 1, without means between two: of an even number the median is the upper.
func quantile(v []float64, q float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[min(len(v)-1, int(q*float64(len(v))))]
}

func median(v []float64) float64 { return quantile(v, 0.5) }

// without is v but for the value at i; v stays as it was.
func without[T any](v []T, i int) []T { return slices.Delete(slices.Clone(v), i, i+1) }

// solve solves n linear equations by elimination with pivots. a holds them in rows of n + 1: the coefficients, then the
// right side; it is overwritten. ok is false where they do not tell the unknowns apart.
func solve(a []float64, n int) (x []float64, ok bool) {
	row := func(r int) []float64 { return a[r*(n+1):][:n+1] }
	for c := range n {
		top := c
		for r := c + 1; r < n; r++ {
			if math.Abs(row(r)[c]) > math.Abs(row(top)[c]) {
				top = r
			}
		}
		pivot := row(top)
		if !(math.Abs(pivot[c]) > 1e-12) {
			return nil, false
		}
		for j, v := range row(c) {
			row(c)[j], pivot[j] = pivot[j], v
		}
		pivot = row(c)
		for r := c + 1; r < n; r++ {
			k := row(r)[c] / pivot[c]
			for j := c; j <= n; j++ {
				row(r)[j] -= k * pivot[j]
			}
		}
	}
	x = make([]float64, n)
	for r := n - 1; r >= 0; r-- {
		x[r] = row(r)[n]
		for j := r + 1; j < n; j++ {
			x[r] -= row(r)[j] * x[j]
		}
		x[r] /= row(r)[r]
	}
	return x, true
}
