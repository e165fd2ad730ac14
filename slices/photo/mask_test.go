package photo

import (
	"testing"

	"pgregory.net/rapid"
)

// A step marks exactly the pixels that are of the kind or have a neighbour of it, by the definition read pixel by pixel.
func TestMaskSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := newMask(rapid.IntRange(1, 9).Draw(t, "w"), rapid.IntRange(1, 9).Draw(t, "h"))
		for i := range m.in {
			m.in[i] = rapid.Bool().Draw(t, "in")
		}
		turn, kind := rapid.IntRange(0, 1).Draw(t, "turn"), rapid.Bool().Draw(t, "kind")
		got := m.step(turn, kind)
		for y := range m.h {
			for x := range m.w {
				hit := false
				for dy := -1; dy <= 1; dy++ {
					for dx := -1; dx <= 1; dx++ {
						u, v := x+dx, y+dy
						near := turn == 1 || dx == 0 || dy == 0
						if near && u >= 0 && v >= 0 && u < m.w && v < m.h && m.in[v*m.w+u] == kind {
							hit = true
						}
					}
				}
				if got.in[y*m.w+x] != (hit == kind) {
					t.Fatalf("(%d, %d) of %v by %v: %v", x, y, m, kind, got)
				}
			}
		}
	})
}
