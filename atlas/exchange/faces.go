package exchange

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"io"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// faces writes every face of the run.
func (x *export) faces(ctx context.Context) error {
	named := map[annotate.TermID]bool{}
	for i, id := range x.plates {
		x.done(i, len(x.plates)+4)
		if err := ctx.Err(); err != nil {
			return err
		}
		p, err := x.lib.Plate(id)
		if err != nil {
			return err
		}
		if err := x.face(ctx, p); err != nil {
			return err
		}
		for l := range p.Labels.All() {
			named[l.Term] = true
		}
	}
	x.m.Terms = []annotate.Term{}
	if x.terms != nil {
		for _, t := range x.terms.All() {
			if named[t.ID] {
				x.m.Terms = append(x.m.Terms, t)
			}
		}
	}
	return nil
}

// refused says why the picture of a plate may not leave, "" when nothing speaks against it.
func (x *export) refused(p atlas.Plate) string {
	name := strings.ToUpper(p.Face.Name()[:1]) + p.Face.Name()[1:]
	switch {
	case p.Photo.Mirrored && p.Mirrored == atlas.Unanswered:
		return name + ": the camera's tag says mirrored. Answer whether it is, first."
	case (p.Doubtful(atlas.OnMask) || p.Doubtful(atlas.OnBorder)) && !x.r.NoTags:
		return name + ": its border or tag mask came over from an earlier photograph. Look whether it is right, and say so."
	case len(p.Border) == 0 && len(p.Mask) == 0 && !x.r.NoTags:
		return name + ": a tag or writing may show. Draw the face's border or cover the tag, or look and say that there is none."
	}
	return ""
}

func (x *export) face(ctx context.Context, p atlas.Plate) error {
	if why := x.refused(p); why != "" {
		return quiz.Refuse(why)
	}
	stem := fmt.Sprintf("slab-%03d-%s", p.Face.Slab, p.Face.Facing)
	q, err := x.plate(ctx, p, stem)
	if err != nil {
		return err
	}
	h, scaled := p.FaceMM()
	if r := p.Registration; r != nil && scaled && r.Method != register.ByLevel {
		x.onto[r.Series] = append(x.onto[r.Series], atlas.FaceOnScan{Labels: p.Labels, Pose: r.Pose,
			ToPx: func(at geom.MM) geom.Px { return h.Px(r.Warp.Back(at)) },
			ToMM: func(at geom.Px) geom.MM { return r.Warp.At(h.MM(at)) }})
	}
	x.m.Plates = append(x.m.Plates, q)
	return x.add("tables/labels-"+stem+".csv", "table", func(w io.Writer) error { return p.Labels.WriteCSV(w, p.Calibration, "photo", x.terms) })
}

// plate writes the picture and the outlines of one plate and returns its part of the manifest.
func (x *export) plate(ctx context.Context, p atlas.Plate, stem string) (q Plate, err error) {
	m, err := x.lib.Photo(ctx, p.ID)
	if err != nil {
		return q, err
	}
	q = Plate{Name: stem, Face: p.Face, Picture: "pictures/" + stem + ".jpg", Size: [2]int{m.Size().X, m.Size().Y}, Calibration: p.Calibration, PhotoUp: p.PhotoUp,
		Mirrored: p.Mirrored, Border: p.Border, Mask: p.Mask, Labels: p.Labels, Registration: p.Registration, Picks: p.Picks, Composed: p.Composed, Synthetic: p.Synthetic,
		Again: p.LookAgain()}
	if e := p.Earlier; e != nil && x.names[e.Plate] != "" {
		q.Before, q.Ties = x.names[e.Plate], e.Ties
	}
	if p.Calibration.Status != photo.Nominal {
		for l := range p.Labels.All() {
			o := Outline{Label: l.ID}
			for _, r := range l.Regions {
				o.Rings = append(o.Rings, r.RingsMM(p.Calibration.MM)...)
			}
			q.MM = append(q.MM, o)
		}
	}
	picture := x.flat(m, p)
	if err := x.add(q.Picture, "picture", func(w io.Writer) error { return photo.EncodeJPEG(w, picture, pictureQuality) }); err != nil {
		return q, err
	}
	return q, x.add("outlines/"+stem+".json", "outlines", func(w io.Writer) error { return writeJSON(w, x.outlines(q)) })
}

// findEarlier names the earlier pictures that go along, so that the current ones can say which of them they came after.
func (x *export) findEarlier(context.Context) error {
	x.names = map[string]string{}
	if !x.r.Earlier {
		return nil
	}
	var all []atlas.Entry
	for e, err := range x.lib.Find(atlas.Query{Run: x.run.ID, Retired: true}) {
		if err != nil {
			return err
		}
		if e.Retired {
			all = append(all, e)
		}
	}
	slices.SortStableFunc(all, func(a, b atlas.Entry) int { return a.Saved.Compare(b.Saved) })
	number := map[section.Face]int{}
	for _, e := range all {
		p, err := x.lib.Plate(e.Plate)
		if err != nil {
			return err
		}
		if why := x.refused(p); why != "" {
			x.m.LeftOut = append(x.m.LeftOut, "An earlier picture was left out. "+why)
			continue
		}
		number[e.Face]++
		x.past = append(x.past, e.Plate)
		x.names[e.Plate] = fmt.Sprintf("slab-%03d-%s-earlier-%d", e.Face.Slab, e.Face.Facing, number[e.Face])
	}
	return nil
}

// earlier writes the earlier pictures.
func (x *export) earlier(ctx context.Context) error {
	for _, id := range x.past {
		p, err := x.lib.Plate(id)
		if err != nil {
			return err
		}
		q, err := x.plate(ctx, p, x.names[id])
		if err != nil {
			return err
		}
		x.m.Earlier = append(x.m.Earlier, q)
	}
	return nil
}

// flat is the upright picture, pixel for pixel, with tags covered and, but for whole pictures, paper outside the border.
func (x *export) flat(m *photo.Image, p atlas.Plate) *image.RGBA {
	out := image.NewRGBA(image.Rectangle{Max: m.Size()})
	m.Draw(out, [6]float64{1, 0, 0, 0, 1, 0})
	if len(p.Border) > 0 && !x.r.WholePictures {
		w, h := float64(m.Size().X), float64(m.Size().Y)
		outside := [][]geom.Px{{{X: -2, Y: -2}, {X: w + 1, Y: -2}, {X: w + 1, Y: h + 1}, {X: -2, Y: h + 1}}}
		for _, b := range p.Border {
			outside = append(outside, b.Outer)
		}
		ink.Fill(out, outside, color.RGBA{255, 255, 255, 255})
	}
	for _, r := range p.Mask {
		ink.Fill(out, [][]geom.Px{r.Outer}, color.RGBA{128, 128, 128, 255})
		ink.Stroke(out, r.Outer, true, 4, color.RGBA{128, 128, 128, 255}, nil)
	}
	return out
}

// outline is one label in the file of a face's outlines.
type outline struct {
	Label     string             `json:"label"`
	Term      annotate.TermID    `json:"term"`
	Structure string             `json:"structure"`
	Side      annotate.Side      `json:"side"`
	Regions   []annotate.Polygon `json:"px"`
	MM        [][][2]float64     `json:"mm,omitempty"`
}

func (x *export) outlines(p Plate) map[string]any {
	mm := map[string][][][2]float64{}
	for _, o := range p.MM {
		mm[o.Label] = o.Rings
	}
	list := []outline{}
	for l := range p.Labels.All() {
		list = append(list, outline{Label: l.ID, Term: l.Term, Structure: x.terms.NameOf(l.Term), Side: l.Side, Regions: l.Regions, MM: mm[l.ID]})
	}
	return map[string]any{"picture": p.Picture, "units": map[string]string{"px": units["picture"], "mm": units["face"]}, "outlines": list}
}
