package quiz

import (
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// photoPx is a pixel of the picture of a station.
type photoPx = geom.Px

// nearness is how a tip lies among the outlines, mm of face.
type nearness struct {
	edge      float64 // to the edge of its own outline
	gap       float64 // to the nearest outline of another structure, infinite when there is none
	neighbour string  // its label
	covered   string  // a smaller label that covers the tip too
}

// nearness measures where a tip lies. Parts of one structure are no neighbours of each other.
func (s *sight) nearness(x annotate.Label, tip geom.Px) nearness {
	return nearnessOf(x, tip, s.labels, s.face.plate.Calibration.PerPixel)
}

func nearnessOf(x annotate.Label, tip geom.Px, all []annotate.Label, perPixel func(geom.Px) (float64, float64)) nearness {
	w, h := perPixel(tip)
	per := math.Sqrt(w * h)
	n := nearness{gap: math.Inf(1)}
	for _, r := range x.Regions {
		if r.Contains(tip) {
			n.edge = r.EdgeDistance(tip) * per
		}
	}
	for _, o := range all {
		if o.ID == x.ID || o.Carried || (o.Term == x.Term && o.Side == x.Side) {
			continue
		}
		if o.Contains(tip) && o.AreaPx() < x.AreaPx() {
			n.covered = o.ID
		}
		for _, r := range o.Regions {
			if gap := r.EdgeDistance(tip) * per; gap < n.gap {
				n.gap, n.neighbour = gap, o.ID
			}
		}
	}
	return n
}

// original is the place to be marked of a label, in pixels of the upright photograph.
func (s *sight) original(id string) geom.Px {
	x, _ := s.plate.Labels.Find(id)
	var all []annotate.Label
	for o := range s.plate.Labels.All() {
		all = append(all, o)
	}
	if len(x.Regions) == 0 {
		return geom.Px{}
	}
	return tipOf(x, all)
}

// faceMM is a pixel of the upright photograph on the face.
func (s *sight) faceMM(q geom.Px) geom.MM {
	h, _ := s.plate.FaceMM()
	return h.MM(q)
}

// tip is where the marker of a label points, in pixels of the picture. In a cut across the face it is the place where
// the two planes meet.
func (s *sight) tip(original, carried annotate.Label) (geom.Px, bool) {
	if len(original.Regions) == 0 {
		return geom.Px{}, false
	}
	if s.crosses {
		q := s.to(s.original(original.ID))
		return q, !math.IsNaN(q.X + q.Y)
	}
	q := tipOf(carried, s.labels)
	return q, !math.IsNaN(q.X + q.Y)
}

// shows reports whether a pixel lies in the part that is shown.
func (f *faceView) shows(q geom.Px) bool {
	v := f.view(q)
	return v.X >= f.box.X && v.X <= f.box.right() && v.Y >= f.box.Y && v.Y <= f.box.bottom()
}

// targets are the places of a station to be marked, on paper. A place to be pointed at bears no marker.
func (s *sight) targets(x Station) (out []target) {
	for _, a := range x.Asks {
		if a.pointed() {
			continue
		}
		original, ok := s.plate.Labels.Find(a.Label)
		if !ok {
			continue
		}
		var carried annotate.Label
		for _, l := range s.labels {
			if l.ID == a.Label {
				carried = l
			}
		}
		tip, ok := s.tip(original, carried)
		if !ok {
			continue
		}
		t := target{id: a.Letter, tip: s.face.paper(tip), rings: s.face.rings(carried.Regions), m: a.Marker}
		for _, r := range carried.Regions {
			if r.Contains(tip) {
				t.edge = s.edgeOnPaper(r, tip)
			}
		}
		if t.m.Style == Outline && len(t.rings) == 0 {
			t.m.Style = Pin
		}
		out = append(out, t)
	}
	return out
}

// edgeOnPaper is how far a tip lies from the edge of its outline, in mm of paper.
func (s *sight) edgeOnPaper(r annotate.Polygon, tip geom.Px) float64 {
	_, _, foot, _ := r.NearestEdge(tip)
	a, b := s.face.paper(tip), s.face.paper(foot)
	return math.Hypot(a.X-b.X, a.Y-b.Y)
}

func (a Ask) pointed() bool {
	for _, q := range a.Questions {
		if q.Form == Pointed {
			return true
		}
	}
	return false
}
