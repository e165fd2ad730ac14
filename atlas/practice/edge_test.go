package practice

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// Tracing with one click every 20 mm must stay within 1.0 mm of the true outline on average, structure by structure; the
// truth is that of the practice body, from which the picture was made.
func TestFollowingAnEdgeKeepsToTheTrueOutline(t *testing.T) {
	dir, _ := truthOf(t)
	traced := map[string]bool{"liver": true, "kidney": true, "spleen": true, "abdominal aorta": true, "urinary bladder": true, "left ventricle": true, "lung": true}
	n, sum, worst := 0, 0.0, 0.0
	for _, f := range made.Faces {
		if f.Face.Slab%3 != 1 {
			continue
		}
		var follower *annotate.Follower
		for i, s := range f.Structures {
			if !traced[s.Name] || s.Area < 150 {
				continue
			}
			if follower == nil {
				follower = annotate.NewPhotoFollower(opened(t, filepath.Join(dir, f.Photo)), 1.5)
			}
			ring := f.labels[i].Regions[0].Outer
			line := trail(follower, ring, f.PxToMM)
			agreed, err := annotate.Compare([]annotate.Polygon{{Outer: line}}, []annotate.Polygon{{Outer: ring}}, f.PxToMM.MM)
			if err != nil {
				t.Errorf("%s: the %s %s: %v", f.Photo, s.Side, s.Name, err)
				continue
			}
			gap := agreed.MeanGap
			n, sum, worst = n+1, sum+gap, max(worst, gap)
			if gap > 1.0 {
				t.Errorf("%s: the %s %s is traced %.2f mm off", f.Photo, s.Side, s.Name, gap)
			}
		}
	}
	if n < 15 {
		t.Fatalf("only %d structures traced", n)
	}
	t.Logf("%d outlines: mean %.2f mm, worst %.2f mm", n, sum/float64(n), worst)
}

func opened(t *testing.T, path string) *photo.Image {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	m, err := photo.Open(context.Background(), bytes.NewReader(b), photo.Limit{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// trail clicks along a ring every 20 mm and joins the clicks by following the edge, each segment accepted as it comes.
func trail(f *annotate.Follower, ring []geom.Px, toMM geom.Homography) []geom.Px {
	clicks := []geom.Px{ring[0]}
	gone := 0.0
	for i := range ring {
		a, b := ring[i], ring[(i+1)%len(ring)]
		gone += toMM.MM(a).Dist(toMM.MM(b))
		if gone >= 20 && i < len(ring)-2 {
			clicks, gone = append(clicks, b), 0
		}
	}
	path := clicks[:1:1]
	for i := range clicks {
		path = append(path, f.Continue(context.Background(), path, clicks[(i+1)%len(clicks)])[1:]...)
	}
	return path
}
