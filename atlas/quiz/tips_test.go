package quiz

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

func square(x, y, half float64) annotate.Polygon {
	return annotate.Polygon{Outer: []geom.Px{{X: x - half, Y: y - half}, {X: x + half, Y: y - half}, {X: x + half, Y: y + half}, {X: x - half, Y: y + half}}}
}

func labelled(id string, regions ...annotate.Polygon) annotate.Label {
	return annotate.Label{ID: id, Regions: regions}
}

// A canal with a cord in it is pointed at beside the cord; the cord in its own middle.
func TestTipsAvoidWhatLiesInside(t *testing.T) {
	canal, cord := labelled("canal", square(50, 50, 40)), labelled("cord", square(40, 50, 20))
	all := []annotate.Label{canal, cord}
	if q := tipOf(cord, all); q.Dist(geom.Px{X: 40, Y: 50}) > 0.1 {
		t.Errorf("cord at %v", q)
	}
	// Right of the cord lie 30 pixels of canal: the deepest place is 15 from both, anywhere along the middle.
	if q := tipOf(canal, all); math.Abs(q.X-75) > 0.5 || math.Abs(q.Y-50) > 25.5 {
		t.Errorf("canal at %v", q)
	}
	// A wall so thin that nothing of it could be hit keeps its own middle.
	lumen := labelled("lumen", square(50, 50, 39))
	if q := tipOf(canal, []annotate.Label{canal, lumen}); q.Dist(geom.Px{X: 50, Y: 50}) > 0.1 {
		t.Errorf("thin wall at %v", q)
	}
	// What is carried over and not yet checked does not count, nor does the larger one count for the smaller.
	cord.Carried = true
	if q := tipOf(canal, []annotate.Label{canal, cord}); q.Dist(geom.Px{X: 50, Y: 50}) > 0.1 {
		t.Errorf("beside a carried outline at %v", q)
	}
}

// Parting leaders moves no name and no tip, never makes two cross, and ends with every leader clear of the tips
// of the others wherever the column has room.
func TestPartedLeaders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 24).Draw(t, "names")
		var boxes []annotate.NameBox
		for i := range n {
			boxes = append(boxes, annotate.NameBox{ID: fmt.Sprint(i), W: 30, H: 5, At: geom.Px{
				X: rapid.Float64Range(70, 230).Draw(t, "x"), Y: float64(rapid.IntRange(30, 120).Draw(t, "y"))}})
		}
		face := []annotate.Polygon{{Outer: []geom.Px{{X: 60, Y: 20}, {X: 240, Y: 20}, {X: 240, Y: 130}, {X: 60, Y: 130}}}}
		before, _ := annotate.Place(boxes, face, annotate.Box{Max: geom.Px{X: 300, Y: 180}})
		after, _ := annotate.Place(boxes, face, annotate.Box{Max: geom.Px{X: 300, Y: 180}})
		partLeaders(after)
		var leaders [][]geom.Px
		for i := range after {
			if after[i].Box != before[i].Box || after[i].Leader[2] != before[i].Leader[2] || after[i].Leader[0] != before[i].Leader[0] {
				t.Fatalf("name %d moved", i)
			}
			leaders = append(leaders, after[i].Leader)
		}
		var was [][]geom.Px
		for _, b := range before {
			was = append(was, b.Leader)
		}
		if anyCross(leaders) && !anyCross(was) {
			t.Fatal("leaders cross")
		}
	})
}

func TestLeadersAreParted(t *testing.T) {
	// Two structures side by side at one height, both named at the right.
	tips := []geom.Px{{X: 160, Y: 70}, {X: 210, Y: 70}}
	boxes := []annotate.NameBox{{ID: "a", W: 30, H: 5, At: tips[0]}, {ID: "b", W: 30, H: 5, At: tips[1]}}
	face := []annotate.Polygon{{Outer: []geom.Px{{X: 60, Y: 20}, {X: 240, Y: 20}, {X: 240, Y: 130}, {X: 60, Y: 130}}}}
	placed, _ := annotate.Place(boxes, face, annotate.Box{Max: geom.Px{X: 300, Y: 180}})
	partLeaders(placed)
	far, near := placed[0].Leader, placed[1].Leader
	if gap := math.Abs(far[1].Y - near[1].Y); gap < leaderGap-0.05 {
		t.Errorf("gates %.2f mm apart", gap)
	}
	share := (far[1].X - near[2].X) / (far[1].X - far[2].X)
	if gap := math.Abs(far[1].Y + share*(far[2].Y-far[1].Y) - near[2].Y); gap < tipGap-0.1 {
		t.Errorf("the far leader passes %.2f mm from the near tip", gap)
	}
}
