package quiz

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// blob is a random outline about a place: points at random distances, in order of their angle, so it never crosses.
func blob(r *rand.Rand, x, y, least, most float64) annotate.Polygon {
	n := 5 + r.IntN(9)
	turns := make([]float64, n)
	sum := 0.0
	for i := range turns {
		turns[i] = 0.3 + r.Float64()
		sum += turns[i]
	}
	var out annotate.Polygon
	at := 2 * math.Pi * r.Float64()
	for _, t := range turns {
		at += t / sum * 2 * math.Pi
		d := least + (most-least)*r.Float64()
		out.Outer = append(out.Outer, geom.Px{X: x + d*math.Cos(at), Y: y + d*math.Sin(at)})
	}
	return out
}

// Row EX1: on 10,000 random outlines the tip lies inside, as deep as a brute-force search finds to 0.5 px, and no two
// markers of a picture cross, whatever their style and side of approach.
func TestEX1TenThousandOutlines(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 7))
	picture := area{20, 20, 200, 140}
	worst, crossings, unplaced, free := 0.0, 0, 0, 0
	for n := 0; n < 10_000; {
		var ts []target
		for k := range 1 + r.IntN(mostAsks) {
			p := blob(r, 40+r.Float64()*160, 40+r.Float64()*100, 4, 6+r.Float64()*14)
			if p.Check() != nil {
				continue
			}
			n++
			tip := tipOf(annotate.Label{ID: "x", Regions: []annotate.Polygon{p}}, nil)
			if !p.Contains(tip) {
				t.Fatalf("outline %d: the tip %v lies outside %v", n, tip, p.Outer)
			}
			if short := bruteDepth(p) - p.EdgeDistance(tip); short > worst {
				worst = short
			}
			from := FromAnywhere
			if r.IntN(3) == 0 {
				from = Approaches[r.IntN(len(Approaches))]
			}
			ts = append(ts, target{id: string(rune('A' + k)), tip: spot(tip), edge: p.EdgeDistance(tip), m: Marker{Styles[r.IntN(len(Styles))], from}})
		}
		placed, left := placeMarkers(ts, picture)
		unplaced += len(left)
		for _, m := range ts {
			if m.m.From == FromAnywhere && slices.Contains(left, m.id) {
				free++
			}
		}
		for i, a := range placed {
			for _, b := range placed[:i] {
				if meets(a.head, a.tip, b.head, b.tip) {
					crossings++
				}
			}
			if a.m.From != FromAnywhere && sideOf(a.head, picture) != a.m.From {
				t.Fatalf("a marker from %s stands %s", a.m.From, sideOf(a.head, picture))
			}
		}
	}
	if worst > 0.5 || crossings > 0 {
		t.Errorf("a tip is %.3f px short of the deepest place; %d crossings", worst, crossings)
	}
	// Where sides were asked for that cross one another, somebody must give way; the screen says so.
	if unplaced > 200 || free > 20 {
		t.Errorf("%d of 10,000 markers found no place, %d of them might have come from anywhere", unplaced, free)
	}
	t.Logf("worst tip %.3f px short of brute force, %d crossings, %d without a place", worst, crossings, unplaced)
}

// bruteDepth is the greatest distance from the edge among all places on a grid of one pixel: a lower bound.
func bruteDepth(p annotate.Polygon) (most float64) {
	b := p.Bounds()
	for y := b.Min.Y; y <= b.Max.Y; y++ {
		for x := b.Min.X; x <= b.Max.X; x++ {
			if q := (geom.Px{X: x, Y: y}); p.Contains(q) {
				most = math.Max(most, p.EdgeDistance(q))
			}
		}
	}
	return most
}

func sideOf(s spot, a area) Approach {
	switch {
	case s.X < a.X:
		return FromLeft
	case s.X > a.right():
		return FromRight
	case s.Y < a.Y:
		return FromAbove
	}
	return FromBelow
}

// Where smaller outlines lie over a structure, its tip is the deepest place that none of them covers.
func TestTipClearOfWhatCovers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		big := annotate.Label{ID: "big", Regions: []annotate.Polygon{blob(r, 60, 60, 25, 50)}}
		all := []annotate.Label{big}
		for i := range 3 {
			all = append(all, annotate.Label{ID: fmt.Sprint(i), Regions: []annotate.Polygon{blob(r, 40+40*r.Float64(), 40+40*r.Float64(), 3, 12)}})
		}
		var over []annotate.Polygon
		for _, o := range all[1:] {
			if o.AreaPx() < big.AreaPx() {
				over = append(over, o.Regions...)
			}
		}
		most := 0.0
		for y := 5.0; y < 115; y++ {
			for x := 5.0; x < 115; x++ {
				most = math.Max(most, roomAt(geom.Px{X: x, Y: y}, big.Regions[0], over))
			}
		}
		tip := tipOf(big, all)
		got := roomAt(tip, big.Regions[0], over)
		if covered := got < 0; covered && most > 0.3*big.Regions[0].EdgeDistance(big.Regions[0].Inside()) {
			t.Fatalf("the tip is covered although there is a place %.1f px deep", most)
		} else if !covered && got < most-1.5 { // grid of 48 and its own way uphill
			t.Fatalf("the tip is %.2f px deep, brute force finds %.2f", got, most)
		}
	})
}
