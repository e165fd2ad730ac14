package atlas

import (
	"context"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/scan"
)

// NumberSpans tells for every number of a label volume how far it reaches along a direction: least and most of (p - from)·along
// over its voxels' centres, in mm. along need not be a unit vector. step is the largest distance from one voxel to the next along it, mm.
func NumberSpans(ctx context.Context, v *scan.Volume, from geom.LPS, along geom.Vec) (spans map[int][2]float64, step float64, err error) {
	spans = map[int][2]float64{}
	var by [3]float64
	for c := range 3 {
		by[c] = v.ToLPS.Column(c).Dot(along)
		step = math.Max(step, math.Abs(by[c]))
	}
	zero := v.ToLPS.LPS(geom.IJK{}).Sub(from).Dot(along)
	for k := range v.Size[2] {
		if err := ctx.Err(); err != nil {
			return nil, 0, err
		}
		for j := range v.Size[1] {
			for i := range v.Size[0] {
				n := v.Value(i, j, k)
				if !(n > 0 && n <= math.MaxInt16) || n != math.Trunc(n) {
					continue
				}
				at := zero + float64(i)*by[0] + float64(j)*by[1] + float64(k)*by[2]
				s, ok := spans[int(n)]
				if !ok {
					s = [2]float64{at, at}
				}
				spans[int(n)] = [2]float64{math.Min(s[0], at), math.Max(s[1], at)}
			}
		}
	}
	return spans, step, nil
}
