package bench

import (
	"image"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// nameSpots keeps where a name stands in each outline, for finding it takes longer than a frame.
type nameSpots map[string]nameSpot

type nameSpot struct {
	first *geom.Px // of the outline the spot was found for
	at    geom.Px
}

func (n *nameSpots) of(x annotate.Label) (geom.Px, bool) {
	if len(x.Regions) == 0 || len(x.Regions[0].Outer) == 0 {
		return geom.Px{}, false
	}
	first := &x.Regions[0].Outer[0]
	if s, ok := (*n)[x.ID]; ok && s.first == first {
		return s.at, true
	}
	if *n == nil {
		*n = nameSpots{}
	}
	at := x.Inside()
	(*n)[x.ID] = nameSpot{first, at}
	return at, true
}

// mostNames bounds how many names are set on a picture: more cannot be read, and each is looked for once.
const mostNames = 60

// nameTag is a name that stands in its outline.
type nameTag struct {
	box    image.Rectangle
	words  string
	chosen bool
}

// setNames finds room for the names of outlines, the chosen one first, leaving out what would overlap or hide its outline.
func (f *facePane) setNames(r brush, d *faceDoc) {
	f.tags = f.tags[:0]
	if f.b.screen == PairingScreen {
		return
	}
	labels := d.plate().Labels
	if row, ok := f.b.comparedRow(); ok {
		if x, there := d.plate().Second.Labels.Find(row.Second); there {
			f.setName(r, d, x, true)
			for i := range f.tags {
				f.tags[i] = f.lower(r, f.tags[i])
			}
		}
	}
	if x, ok := labels.Find(f.b.draw.chosen); ok && f.press.point == noPoint {
		f.setName(r, d, x, true)
	}
	if x, ok := labels.Find(f.b.draw.hovered); ok && x.ID != f.b.draw.chosen {
		f.setName(r, d, x, true)
	}
	n := 0
	for x := range labels.All() {
		if x.ID == f.b.draw.chosen || x.ID == f.b.draw.hovered {
			continue
		}
		if n++; n > mostNames {
			break
		}
		f.setName(r, d, x, false)
	}
}

// lower says that a name is the second reader's and moves it below its place, for the first reader's stands there.
func (f *facePane) lower(r brush, t nameTag) nameTag {
	t.words = Word("second.tag", t.words)
	w, h := r.plateSize(t.words)
	mid := (t.box.Min.X + t.box.Max.X) / 2
	top := min(t.box.Max.Y+r.n(8), f.in.Max.Y-h)
	t.box = image.Rect(mid-w/2, top, mid-w/2+w, top+h)
	return t
}

func (f *facePane) setName(r brush, d *faceDoc, x annotate.Label, force bool) {
	t, known := f.b.term(x.Term)
	if !known && !force {
		return
	}
	at, ok := f.names.of(x)
	if !ok {
		return
	}
	words := Word("label.unnamed")
	if known {
		words = t.Kind.Letter() + "  " + f.b.shownName(t)
		switch x.Side {
		case annotate.Left:
			words += " L"
		case annotate.Right:
			words += " R"
		}
	}
	p := d.view.Device(at)
	w, h := r.plateSize(words)
	box := image.Rect(int(p.X)-w/2, int(p.Y)-h/2, int(p.X)-w/2+w, int(p.Y)-h/2+h)
	if !box.In(f.in) || (!force && x.Bounds().W()*d.view.Zoom < float64(w)/2) {
		return // not in sight, or the outline would vanish behind its name
	}
	for _, o := range f.tags {
		if o.box.Inset(-r.n(3)).Overlaps(box) {
			return
		}
	}
	f.tags = append(f.tags, nameTag{box, words, x.ID == f.b.draw.chosen})
}

// paintNames writes the names onto one band of the picture.
func (f *facePane) paintNames(r brush) {
	for i := range f.tags {
		x := &f.tags[i]
		if !x.box.Overlaps(r.dst.Rect) {
			continue
		}
		c := r.pal.OnDark
		if x.chosen {
			c = r.pal.ChosenOnDark
		}
		r.plate(x.box.Min.X, x.box.Min.Y, c, dark(), x.words)
	}
}
