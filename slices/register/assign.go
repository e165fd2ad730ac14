package register

import (
	"fmt"
	"math"
)

// AssignLevels chooses a level for every face of a stack so that together they cost least and still rise: cost[i][j] is how
// badly face i fits level z[j] (rising), gaps[i] the expected way from face i to face i+1, and a way that differs costs
// weight*(difference/sd)². It returns the chosen index for each face and the sum. Exact, by dynamic programming in the
// square of the levels. It fails when the tables do not match or no rising choice exists.
func AssignLevels(cost [][]float64, z, gaps []float64, sd, weight float64) (path []int, total float64, err error) {
	n, m := len(cost), len(z)
	if n == 0 || m < n || len(gaps) != n-1 || !(sd > 0) || !(weight >= 0) {
		return nil, 0, fmt.Errorf("register: %d faces with %d ways between them cannot be laid on %d levels", n, len(gaps), m)
	}
	for j := 1; j < m; j++ {
		if !(z[j] > z[j-1]) {
			return nil, 0, fmt.Errorf("%w: level %g does not lie beyond %g", ErrOutOfOrder, z[j], z[j-1])
		}
	}
	best := make([][]float64, n)
	from := make([][]int, n)
	for i := range n {
		if len(cost[i]) != m {
			return nil, 0, fmt.Errorf("register: face %d has %d costs for %d levels", i+1, len(cost[i]), m)
		}
		best[i], from[i] = make([]float64, m), make([]int, m)
		for j := range m {
			if i == 0 {
				best[i][j] = cost[i][j]
				continue
			}
			best[i][j], from[i][j] = math.Inf(1), -1
			for q := range j {
				off := (z[j] - z[q] - gaps[i-1]) / sd
				if c := best[i-1][q] + weight*off*off; c < best[i][j] {
					best[i][j], from[i][j] = c, q
				}
			}
			best[i][j] += cost[i][j]
		}
	}
	at := 0
	for j := range m {
		if best[n-1][j] < best[n-1][at] {
			at = j
		}
	}
	total = best[n-1][at]
	if math.IsInf(total, 0) || math.IsNaN(total) {
		return nil, 0, fmt.Errorf("register: no rising choice of levels exists")
	}
	path = make([]int, n)
	for i := n - 1; i >= 0; i-- {
		path[i] = at
		at = from[i][at]
	}
	return path, total, nil
}
