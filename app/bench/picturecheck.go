package bench

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"maps"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// CheckRow is one thing that a picture could do better, with what to change at the stand. It is advice and bars nothing.
type CheckRow struct {
	Mark   int    // the number of its marks on the picture, from 1; 0 when it has no place
	Words  string // "Glare over 1.2 % of the face"
	Advice string
}

// Checked is what the picture check has to say of one picture. Known is false until it was looked at.
type Checked struct {
	Known bool
	Rows  []CheckRow
	Words string // one line
}

// checkPhotos looks at photographs as a job, decoding each: those just taken in, or all of a run.
func (b *Bench) checkPhotos(ids []string) {
	run, lib := b.Run().ID, b.lab.lib
	ids = slices.DeleteFunc(slices.Clone(ids), func(id string) bool { _, known := b.rule.checks[id]; return known })
	if len(ids) == 0 {
		return
	}
	b.start(Word("job.look"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		got := map[string]photo.Check{}
		for i, id := range ids {
			if ctx.Err() != nil {
				break
			}
			if c, err := lookAt(ctx, lib, id); err == nil { // a picture that cannot be read says so where it is opened
				got[id] = c
			}
			tell(i+1, len(ids))
		}
		return func() { b.checksCame(run, got) }, nil
	})
}

func lookAt(ctx context.Context, lib library, id string) (photo.Check, error) {
	p, err := lib.Plate(id)
	if err != nil {
		return photo.Check{}, err
	}
	m, err := lib.Photo(ctx, id)
	if err != nil {
		return photo.Check{}, err
	}
	return photo.Measure(m, borderOf(p.Border, m)), nil
}

// borderOf is the border that was drawn, else the one that stands out from the tray, else none: then the whole picture
// is looked at.
func borderOf(drawn []annotate.Polygon, m *photo.Image) photo.Border {
	found, err := photo.FaceBorder(m)
	if err != nil {
		found = photo.Border{}
	}
	if len(drawn) > 0 {
		found.Rings = nil
		for _, p := range drawn {
			for n := range p.Rings() {
				found.Rings = append(found.Rings, p.Ring(n))
			}
		}
		found.Cut = cutBy(found.Rings, m)
	}
	return found
}

// wantCheck looks at the picture on the bench, once, when the whole of it is there.
func (b *Bench) wantCheck(d *faceDoc) {
	p, run := d.plate(), b.Run().ID
	if _, known := b.rule.checks[p.ID]; known || !d.whole || d.looking {
		return
	}
	d.looking = true
	m := d.picture
	b.start(Word("job.look"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		c := photo.Measure(m, borderOf(p.Border, m))
		return func() {
			d.looking = false
			b.checksCame(run, map[string]photo.Check{p.ID: c})
		}, nil
	})
}

// checksCame keeps what was seen.
func (b *Bench) checksCame(run string, got map[string]photo.Check) {
	if b.Run().ID != run || len(got) == 0 {
		return
	}
	if b.rule.checks == nil {
		b.rule.checks = map[string]photo.Check{}
	}
	maps.Copy(b.rule.checks, got)
	b.remarkTray()
	b.changed(LabChanged | PlateChanged | ViewChanged | SelectionChanged)
}

// remarkTray writes what the check found under all prints of the tray: what is soft shows only beside the others.
func (b *Bench) remarkTray() {
	b.lab.tray = slices.Clone(b.lab.tray)
	for i := range b.lab.tray {
		b.remark(&b.lab.tray[i])
	}
}

// remark writes what the check found under a print of the tray and marks the places on it.
func (b *Bench) remark(t *TrayPhoto) {
	c := b.judged(t.ID, photo.Calibration{})
	if t.Preview == nil || len(c.Findings) == 0 {
		return
	}
	var said []string
	for _, f := range c.Findings {
		said = append(said, findingWords(f)+". "+adviceWords(f.Fault))
	}
	if t.Advice = strings.Join(said, "\n"); t.marked {
		return
	}
	t.marked = true
	clean := t.Preview
	t.Preview = image.NewRGBA(clean.Rect)
	copy(t.Preview.Pix, clean.Pix)
	k := float64(clean.Rect.Dx()) / float64(max(t.size.X, 1))
	for _, f := range c.Findings {
		for _, r := range f.Where {
			markBox(t.Preview, func(p geom.Px) geom.Px { return geom.Px{X: p.X * k, Y: p.Y * k} }, r, 2)
		}
	}
}

// judged holds what was seen on a picture against the limits and against the others of the sitting.
func (b *Bench) judged(id string, c photo.Calibration) photo.Check {
	seen, known := b.rule.checks[id]
	if !known {
		return photo.Check{}
	}
	var others []float64
	for other, x := range b.rule.checks {
		if other != id {
			others = append(others, x.Focus)
		}
	}
	return seen.Judged(c, others)
}

// PictureCheck tells what the picture check has to say of the face on the bench.
func (b *Bench) PictureCheck() Checked {
	p, ok := b.Plate()
	if !ok {
		return Checked{}
	}
	_, known := b.rule.checks[p.ID]
	u, odd := b.unlikeAt(p.Face)
	if !known && !odd {
		return Checked{}
	}
	c := b.judged(p.ID, p.Calibration)
	out := Checked{Known: true, Words: Word("check.none")}
	for i, f := range c.Findings {
		row := CheckRow{Words: findingWords(f), Advice: adviceWords(f.Fault)}
		if len(f.Where) > 0 {
			row.Mark = i + 1
		}
		out.Rows = append(out.Rows, row)
	}
	if odd {
		out.Rows = append(out.Rows, CheckRow{Words: unlikeWords(u), Advice: Word("unlike.advice")})
	}
	if n := len(out.Rows); n > 0 {
		out.Words = count("check.some", n)
	}
	return out
}

// CheckRun looks at every photograph of the run, so that the sharpness of each can be held against the others.
func (b *Bench) CheckRun() {
	var ids []string
	for _, f := range b.Run().Faces() {
		if x, there := b.rule.facts[f]; there {
			ids = append(ids, x.plate)
		}
	}
	b.checkPhotos(ids)
	b.compareFaces()
}

// SetMarks shows or hides the places that the check found, on the face.
func (b *Bench) SetMarks(on bool) {
	b.draw.marks = on
	b.changed(ViewChanged | SelectionChanged)
}

// Marks reports whether the places are shown.
func (b *Bench) Marks() bool { return b.draw.marks }

var faultNames = [...]string{photo.Glare: "glare", photo.Blur: "blur", photo.Clipped: "clipped", photo.Coarse: "coarse", photo.CutByFrame: "cut"}

func adviceWords(f photo.Fault) string { return Word("check.advice." + faultNames[f]) }

// findingWords tells one finding with its figure.
func findingWords(f photo.Finding) string {
	key := "check." + faultNames[f.Fault]
	switch f.Fault {
	case photo.CutByFrame:
		return Word(key)
	case photo.Coarse:
		return Word(key, f.Value)
	}
	return Word(key, 100*f.Value)
}

// paintMarks draws a dashed box with its number round every place that the check found.
func (f *facePane) paintMarks(r brush, d *faceDoc) {
	p := d.plate()
	for i, x := range f.b.judged(p.ID, p.Calibration).Findings {
		for _, box := range x.Where {
			at := markBox(r.dst, d.view.Device, box, r.u(2))
			r.plate(max(int(at.X), f.in.Min.X), max(int(at.Y), f.in.Min.Y), r.pal.OnDark, dark(), fmt.Sprint(i+1))
		}
	}
}

// markBox draws a box of photograph pixels, dashed in yellow over black, and returns its upper left corner as drawn.
func markBox(dst *image.RGBA, to func(geom.Px) geom.Px, box image.Rectangle, width float64) geom.Px {
	ring := boxPolygon(geom.Px{X: float64(box.Min.X), Y: float64(box.Min.Y)}, geom.Px{X: float64(box.Max.X), Y: float64(box.Max.Y)}).Outer
	at := geom.Px{X: 1e9, Y: 1e9}
	for i, q := range ring {
		ring[i] = to(q)
		at.X, at.Y = min(at.X, ring[i].X), min(at.Y, ring[i].Y)
	}
	ink.Stroke(dst, ring, true, 2*width, ink.Fade(color.RGBA{0, 0, 0, 255}, 0.6), nil)
	ink.Stroke(dst, ring, true, width, rgb(0xffe14d), []float64{5 * width, 3 * width})
	return at
}
