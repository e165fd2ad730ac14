package register

import "math"

// spreadContrast clips the block's values to the bulk of those near the face and stretches the ranges that hold much of
// the tissue (by the cube root of how much), so that bone and air do not take all the bins. Only the order of the
// values matters to the measure, and the order is kept. The layers within depth mm of the face are looked at.
func (b *block) spreadContrast(depth float64) {
	layer := b.size[0] * b.size[1]
	mid, reach := b.size[2]/2, int(depth/b.step)
	near := b.v[max(0, mid-reach)*layer : min(b.size[2], mid+reach+1)*layer]
	sample := make([]float32, 0, 1<<16)
	for i := 0; i < len(near); i += 1 + len(near)>>16 {
		if near[i] == near[i] {
			sample = append(sample, near[i])
		}
	}
	lo32, hi32 := clipped(sample, 0.005, 0.995)
	lo, hi := float64(lo32), float64(hi32)
	if !(hi > lo) {
		return
	}
	const n = 256
	var count [n]float64
	for _, x := range sample {
		count[min(int((float64(x)-lo)/(hi-lo)*n), n-1)]++
	}
	for range 4 {
		c := count
		for i := range n {
			count[i] = (c[max(i-1, 0)] + 2*c[i] + c[min(i+1, n-1)]) / 4
		}
	}
	var sum [n + 1]float64
	for i := range n {
		sum[i+1] = sum[i] + math.Cbrt(count[i]+1)
	}
	for i, x := range b.v {
		if x != x {
			continue
		}
		f := min(max((float64(x)-lo)/(hi-lo)*n, 0), n-1e-3)
		k := int(f)
		b.v[i] = float32((sum[k] + (f-float64(k))*(sum[k+1]-sum[k])) / sum[n])
	}
}
