package bench

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// BookWay is how the two faces of a cut are shown.
type BookWay uint8

// Side by side as the cut opens; laid on each other, one mirrored; or only where the two differ.
const (
	BookOpen BookWay = iota
	BookOver
	BookDifference
)

// bookRoom is one cut opened like a book: the far face of one slab and the near face of the next.
type bookRoom struct {
	key   string // of the cut and the states of its plates: what pages were made from
	made  bool
	pages [2]bookPage
	laid  atlas.Laid // the second page on the first
	match bool       // both outlines are known
	way   BookWay
	mix   float64 // share of the second face where both are laid on each other

	order orderCheck
}

// bookPage is one face of the cut.
type bookPage struct {
	face    section.Face
	plate   atlas.Plate
	has     bool
	picture *photo.Image
	outline atlas.Outline
	border  []annotate.Polygon // drawn, else found; pixels of the original
	why     string             // why there is no outline
}

// orderCheck is what the outlines of a whole run tell of the order of its slabs.
type orderCheck struct {
	run    string
	slabs  []section.Slab
	done   bool
	cuts   []atlas.CutCheck
	doubts []atlas.SwapDoubt
}

// needCut says why there is no cut to open at the chosen face.
func needCut(b *Bench) string {
	if why := needFace(b); why != "" {
		return why
	}
	_, ok := b.Run().Partner(b.Face())
	return when(!ok, "book.end")
}

// cutFaces are the two faces of the cut at the chosen face, that of the slab nearer to slab 1 first.
func (b *Bench) cutFaces() (first, second section.Face, ok bool) {
	f := b.Face()
	z, ok := b.Run().Partner(f)
	if f.Facing == b.Run().First {
		f, z = z, f
	}
	return f, z, ok
}

// OpenBook opens the cut at the chosen face.
func (b *Bench) OpenBook() {
	if why := needCut(b); why != "" {
		b.hint(why, true)
		return
	}
	b.Show(BookScreen)
}

// StepCut goes n cuts further along the run and stops at its ends; from an end face it goes to the cut nearest to it.
func (b *Bench) StepCut(n int) {
	first, _, ok := b.cutFaces()
	run := b.Run()
	if needFace(b) != "" || len(run.Slabs) < 2 {
		return
	}
	if !ok {
		first, n = b.Face(), 0
		first.Facing = run.First.Opposite()
	}
	i := slices.IndexFunc(run.Slabs, func(s section.Slab) bool { return s.Number == first.Slab })
	i = min(max(i+n, 0), len(run.Slabs)-2)
	first.Slab = run.Slabs[i].Number
	b.ChooseFace(first)
	b.wantBook()
	b.changed(ViewChanged)
}

// SetBookWay shows the faces side by side, laid on each other, or their difference.
func (b *Bench) SetBookWay(w BookWay) {
	b.book.way = w
	if w == BookOver && b.book.mix == 0 {
		b.book.mix = 0.5
	}
	b.changed(ViewChanged)
}

// BookWay is how the two faces are shown.
func (b *Bench) BookWay() BookWay { return b.book.way }

// SetBookMix shows share (0 to 1) of the second face over the first.
func (b *Bench) SetBookMix(share float64) {
	if b.book.mix = math.Min(1, math.Max(0, share)); b.book.way == BookOpen {
		b.book.way = BookOver
	}
	b.changed(ViewChanged)
}

// wantBook reads the two faces of the cut as a job, when they are not those on show.
func (b *Bench) wantBook() {
	first, second, ok := b.cutFaces()
	if b.screen != BookScreen || !ok || b.lab.lib == nil {
		return
	}
	k := &b.book
	pages := [2]bookPage{{face: first}, {face: second}}
	key := b.Run().ID
	for i := range pages {
		p := &pages[i]
		p.plate, p.has = b.plateOn(p.face)
		key += fmt.Sprintf(" %s %s %v %v %v %v %v", p.face.Name(), p.plate.ID, p.plate.PhotoUp, p.plate.Mirrored, p.plate.Calibration.ToMM, p.plate.Calibration.Lens, len(p.plate.Border))
		if d := b.docs[p.plate.ID]; p.has && d != nil && d.picture != nil {
			p.picture = d.picture
		}
	}
	if key == k.key {
		return
	}
	k.key, k.made, k.pages, k.match = key, false, pages, false
	lib, run := b.lab.lib, b.Run()
	b.start(Word("job.book"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		for i := range pages {
			if err := pages[i].read(ctx, lib, run); err != nil {
				return nil, err
			}
			tell(i+1, 3)
		}
		var laid atlas.Laid
		match := pages[0].why == "" && pages[1].why == ""
		if match {
			laid = pages[1].outline.On(pages[0].outline)
		}
		return func() {
			if k.key != key {
				return // another cut was opened meanwhile
			}
			k.pages, k.laid, k.match, k.made = pages, laid, match, true
			b.wantOrder()
			b.changed(ViewChanged | PlateChanged)
		}, nil
	})
}

// read reads the picture of a page and finds its outline. It runs away from the event loop.
func (p *bookPage) read(ctx context.Context, lib library, run section.Run) error {
	if !p.has {
		p.why = Word("book.nophoto", run.Name(p.face))
		return nil
	}
	if p.picture == nil {
		m, err := lib.Preview(ctx, p.plate.ID)
		if err != nil {
			return err
		}
		p.picture = photo.NewImage(m)
	}
	p.border = p.plate.Border
	if len(p.border) == 0 {
		p.border = foundBorder(p.picture, p.plate)
	}
	var err error
	if p.outline, err = p.plate.Outline(p.border); err != nil {
		p.why = upperFirst(run.Name(p.face)) + ": " + Explain(err).Title
	}
	return ctx.Err()
}

// foundBorder is the border that stands out from the tray in a picture of a plate, in pixels of the original; nil when none does.
func foundBorder(m *photo.Image, p atlas.Plate) (out []annotate.Polygon) {
	found, err := photo.FaceBorder(m)
	if err != nil {
		return nil
	}
	kx, ky := float64(p.Photo.Size.X)/float64(m.Size().X), float64(p.Photo.Size.Y)/float64(m.Size().Y)
	for _, ring := range found.Rings {
		x := annotate.Polygon{Outer: ring}
		out = append(out, x.Map(func(q geom.Px) geom.Px { return geom.Px{X: (q.X+0.5)*kx - 0.5, Y: (q.Y+0.5)*ky - 0.5} }))
	}
	return out
}

// wantOrder compares the outlines of the whole run, once, as a job.
func (b *Bench) wantOrder() {
	o := &b.book.order
	run := b.Run()
	if o.run == run.ID && slices.Equal(o.slabs, run.Slabs) {
		return
	}
	*o = orderCheck{run: run.ID, slabs: run.Slabs}
	var pages []bookPage
	for _, f := range run.Faces() {
		if p, ok := b.plateOn(f); ok {
			pages = append(pages, bookPage{face: f, plate: p, has: true})
		}
	}
	lib := b.lab.lib
	b.start(Word("job.order"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var outlines []atlas.Outline
		for i := range pages {
			if err := pages[i].read(ctx, lib, run); errors.Is(err, context.Canceled) {
				return nil, err
			}
			if pages[i].why == "" {
				outlines = append(outlines, pages[i].outline)
			}
			tell(i+1, len(pages)+1)
		}
		cuts, doubts := atlas.CheckOrder(run, outlines)
		return func() {
			if o.run == run.ID {
				o.cuts, o.doubts, o.done = cuts, doubts, true
				b.changed(ViewChanged | PlateChanged)
			}
		}, nil
	})
}

// BookWords tell how the two faces of the cut agree, and what the outlines of the run say of the order of its slabs; warn when
// something is to be looked at.
func (b *Bench) BookWords() (cut, order string, warn bool) {
	k := &b.book
	if _, _, open := b.cutFaces(); !open {
		return Word("book.end"), "", false
	}
	if !k.made {
		return Word("book.reading"), "", false
	}
	var lines []string
	for _, p := range k.pages {
		if p.why != "" {
			lines = append(lines, p.why)
		}
	}
	if k.match {
		lines = append(lines, Word("book.overlap", k.laid.Dice, k.laid.Turn*180/math.Pi))
	}
	o := &k.order
	switch {
	case !o.done:
		order = Word("book.order.reading")
	case len(o.doubts) > 0:
		order, warn = o.doubts[0].Words()+" "+Word("book.order.look"), true
	default:
		known := 0
		for _, c := range o.cuts {
			if !math.IsNaN(c.Dice) {
				known++
			}
		}
		order = count("book.order.sound", known)
	}
	for _, c := range o.cuts {
		if c.After == k.pages[0].face.Slab && !math.IsNaN(c.Dice) && !math.IsNaN(c.Neighbour) {
			lines = append(lines, Word("book.neighbour", c.Neighbour))
			if c.Doubtful {
				lines, warn = append(lines, Word("book.doubtful")), true
			}
		}
	}
	return strings.Join(lines, " "), order, warn
}

// BookKerf is the width of the cut on show in mm, and the names of its faces.
func (b *Bench) BookKerf() (kerf float64, first, second string) {
	f, z, ok := b.cutFaces()
	if !ok {
		return 0, "", ""
	}
	for _, s := range b.Run().Slabs {
		if s.Number == f.Slab {
			kerf = s.Kerf
		}
	}
	return kerf, b.FaceName(f), b.FaceName(z)
}
