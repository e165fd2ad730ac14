package bench

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// sheetRoom is the chequer sheet that a lens is measured from: how it is made, and pictures of it. Corners is what meets: a
// sheet of 9 x 7 squares has 8 x 6.
type sheetRoom struct {
	Columns, Rows int
	Side          float64 // of a square, mm

	open  bool // pictures of the sheet are shown in place of the face
	shots []sheetShot
	shown int
	lens  *photo.Lens // measured, not kept for a stand yet
	why   string      // why none could be measured
	seeks int         // pictures being looked through
}

// sheetShot is one picture of the sheet. Corners lie in pixels of the photograph.
type sheetShot struct {
	path, name string
	size       image.Point
	small      *photo.Image
	ties       []photo.Tie // what was found, a suggestion until it is accepted
	why        string      // why nothing was found
	accepted   bool
	columns    int // as sought
	view       Viewport
}

// SheetRow is one picture of the sheet in a list.
type SheetRow struct {
	Name, Words            string
	Found, Accepted, Shown bool
}

// SheetInfo is what is being measured of the lens.
type SheetInfo struct {
	Columns, Rows int     // inner corners
	Side          float64 // of a square, mm
	Open          bool    // pictures of the sheet are shown in place of the face
	Shots         []SheetRow
	Accepted      int
	Busy          bool
	Words         string // what to do next
	Lens          string // what was measured, "" nothing yet
	Problem       string
}

// Sheet tells how far measuring the lens has got.
func (b *Bench) Sheet() SheetInfo {
	s := &b.stand.sheet
	i := SheetInfo{Columns: s.Columns, Rows: s.Rows, Side: s.Side, Open: s.open, Busy: s.seeks > 0, Problem: s.why}
	for k, x := range s.shots {
		row := SheetRow{Name: x.name, Words: x.why, Found: x.ties != nil, Accepted: x.accepted, Shown: k == s.shown}
		if row.Found {
			row.Words = Word("sheet.found", len(x.ties))
			if x.accepted {
				row.Words = Word("sheet.accepted", len(x.ties))
				i.Accepted++
			}
		}
		i.Shots = append(i.Shots, row)
	}
	switch {
	case !s.made():
		i.Words = Word("sheet.ask")
	case i.Busy:
		i.Words = Word("sheet.seeking")
	case len(s.shots) == 0:
		i.Words = Word("sheet.add")
	case i.Accepted == 0:
		i.Words = Word("sheet.look")
	default:
		i.Words = Word("sheet.ready", i.Accepted)
	}
	if s.lens != nil {
		i.Lens = lensWords(s.lens)
	}
	return i
}

// made reports whether the sheet is described.
func (s *sheetRoom) made() bool { return s.Columns >= 3 && s.Rows >= 3 && s.Side > 0 }

// OpenSheet shows pictures of the chequer sheet in place of the face, or the face again.
func (b *Bench) OpenSheet(on bool) {
	b.stand.sheet.open = on
	b.changed(SelectionChanged | ViewChanged)
}

// SetSheet says how many inner corners the sheet has along its rows and columns, and how long a square's side is in mm. Pictures are
// looked through again.
func (b *Bench) SetSheet(columns, rows int, side float64) {
	s := &b.stand.sheet
	if columns == s.Columns && rows == s.Rows && side == s.Side {
		return
	}
	again := columns != s.Columns || rows != s.Rows
	for i := range s.shots { // another side only scales what was found
		ties := slices.Clone(s.shots[i].ties)
		for k := range ties {
			ties[k].MM = geom.MM{X: side * float64(k%max(columns, 1)), Y: side * float64(k/max(columns, 1))}
		}
		s.shots[i].ties = ties
	}
	s.Columns, s.Rows, s.Side, s.lens, s.why = columns, rows, side, nil, ""
	b.draw.scale.Sheet = nil
	if again && s.made() {
		var paths []string
		for _, x := range s.shots {
			paths = append(paths, x.path)
		}
		s.shots = nil
		b.AddSheetPictures(paths)
	}
	b.checkScale()
}

// mostSheets bounds the pictures of a sheet.
const mostSheets = 20

// AddSheetPictures looks for the sheet in pictures from the stand, as a job. They are not taken into the lab.
func (b *Bench) AddSheetPictures(paths []string) {
	s := &b.stand.sheet
	if !s.made() {
		b.hint(Word("sheet.ask"), true)
		return
	}
	paths = paths[:min(len(paths), max(0, mostSheets-len(s.shots)-s.seeks))]
	if len(paths) == 0 {
		return
	}
	columns, rows, side := s.Columns, s.Rows, s.Side
	s.open = true
	s.seeks += len(paths)
	b.start(Word("job.sheet"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var got []sheetShot
		for i, path := range paths {
			if ctx.Err() != nil {
				break
			}
			got = append(got, seekSheet(ctx, path, columns, rows, side))
			tell(i+1, len(paths))
		}
		return func() {
			s := &b.stand.sheet
			s.seeks = max(0, s.seeks-len(paths))
			if s.Columns == columns && s.Rows == rows {
				s.shown = len(s.shots)
				s.shots = append(s.shots, got...)
			}
			b.changed(SelectionChanged | ViewChanged)
		}, nil
	})
	b.changed(SelectionChanged | ViewChanged)
}

// seekSheet reads a picture and looks for the sheet.
func seekSheet(ctx context.Context, path string, columns, rows int, side float64) sheetShot {
	x := sheetShot{path: path, name: filepath.Base(path), columns: columns}
	fail := func(err error) sheetShot {
		if x.why = beyond(err, photo.ErrNoSheet); x.why == "" {
			x.why = Explain(err).Title + "."
		}
		return x
	}
	f, err := os.Open(path)
	if err != nil {
		return fail(err)
	}
	defer f.Close()
	m, err := photo.Open(ctx, f, photo.Limit{})
	if err != nil {
		return fail(err)
	}
	x.size, x.small = m.Size(), photo.NewImage(m.Preview(2000))
	if x.ties, err = photo.FindChequer(ctx, m, columns, rows, side); err != nil {
		return fail(err)
	}
	return x
}

// beyond is what an error says beyond being kind, as a sentence; "" where it says no more, or is of another kind.
func beyond(err, kind error) string {
	_, why, ok := strings.Cut(err.Error(), kind.Error()+": ")
	if !ok {
		return ""
	}
	return upperFirst(why) + "."
}

// ShowSheet shows picture i of the sheet.
func (b *Bench) ShowSheet(i int) {
	if i >= 0 && i < len(b.stand.sheet.shots) {
		b.stand.sheet.shown, b.stand.sheet.open = i, true
		b.changed(SelectionChanged | ViewChanged)
	}
}

// AcceptSheet takes what was found on picture i for measuring, or leaves it out, and shows the next that waits.
func (b *Bench) AcceptSheet(i int, yes bool) {
	s := &b.stand.sheet
	if i < 0 || i >= len(s.shots) || s.shots[i].ties == nil {
		return
	}
	s.shots[i].accepted, s.lens, s.why = yes, nil, ""
	if next := slices.IndexFunc(s.shots, func(x sheetShot) bool { return x.ties != nil && !x.accepted }); yes && next >= 0 {
		s.shown = next
	}
	b.changed(SelectionChanged | ViewChanged)
}

// DropSheet forgets picture i.
func (b *Bench) DropSheet(i int) {
	s := &b.stand.sheet
	if i >= 0 && i < len(s.shots) {
		s.shots = slices.Delete(s.shots, i, i+1)
		s.shown = max(0, min(s.shown, len(s.shots)-1))
		b.changed(SelectionChanged | ViewChanged)
	}
}

// MeasureLens measures the lens from the accepted pictures: from three on with the angles they were taken at, else from the one that
// reaches farthest. It fails with photo.ErrLens.
func (b *Bench) MeasureLens() error {
	s := &b.stand.sheet
	var views [][]photo.Tie
	var size image.Point
	for _, x := range s.shots {
		if !x.accepted {
			continue
		}
		if size != (image.Point{}) && x.size != size {
			return fmt.Errorf("%w: %s", ErrForm, Word("sheet.sizes"))
		}
		size = x.size
		views = append(views, x.ties)
	}
	if len(views) == 0 {
		return fmt.Errorf("%w: %s", ErrForm, Word("sheet.look"))
	}
	l, err := photo.MeasureLens(views, size)
	if err != nil {
		s.lens, s.why = nil, strings.TrimSpace(Explain(err).Title+". "+beyond(err, photo.ErrLens))
		b.changed(SelectionChanged)
		return err
	}
	s.lens, s.why, s.open = &l, "", false
	b.checkScale()
	b.changed(SelectionChanged | ViewChanged)
	return nil
}

// FindSheet looks for the chequer sheet in the face's own photograph, to be its scale, as a job. What is found is a suggestion.
func (b *Bench) FindSheet() {
	s, d := b.stand.sheet, b.doc
	switch {
	case !s.made():
		b.hint(Word("sheet.ask"), true)
		return
	case d == nil || !d.whole:
		b.hint(Word("face.reading"), true)
		return
	}
	m := d.picture
	b.start(Word("job.sheet"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		ties, err := photo.FindChequer(ctx, m, s.Columns, s.Rows, s.Side)
		return func() {
			if b.doc == d && b.draw.tool == ToolScale && err == nil {
				b.draw.scale.Mode, b.draw.scale.Points, b.draw.scale.Sheet = ChequerSheet, nil, ties
				b.checkScale()
			}
		}, err
	})
}

// sheetShown is the picture of the sheet that stands in place of the face.
func (b *Bench) sheetShown() *sheetShot {
	s := &b.stand.sheet
	if !s.open || b.draw.tool != ToolScale || b.screen != FaceScreen || s.shown >= len(s.shots) {
		return nil
	}
	return &s.shots[s.shown]
}

// sheetView is how the picture of the sheet is looked at: whole, until a person comes nearer.
func (f *facePane) sheetView(x *sheetShot) Viewport {
	v := x.view
	v.X, v.Y, v.W, v.H = f.in.Min.X, f.in.Min.Y, f.in.Dx(), f.in.Dy()
	if v.Zoom == 0 {
		v = v.Fit(float64(x.size.X), float64(x.size.Y))
	}
	return v
}

// panSheet and zoomSheet move the picture of the sheet, so that its corners can be looked at.
func (f *facePane) panSheet(dx, dy float64) {
	x := f.b.sheetShown()
	x.view = f.sheetView(x).Pan(dx, dy).Within(float64(x.size.X), float64(x.size.Y))
	f.b.changed(ViewChanged)
}

func (f *facePane) zoomSheet(at geom.Px, factor float64) {
	x := f.b.sheetShown()
	v := f.sheetView(x)
	least := v.Fit(float64(x.size.X), float64(x.size.Y)).Zoom / 2
	x.view = v.ZoomAt(at, factor, least, mostZoom)
	f.b.changed(ViewChanged)
}

// paintSheet shows a picture of the sheet with what was found on it.
func (f *facePane) paintSheet(r brush, x *sheetShot) {
	in := f.in
	part := image.RGBA{Pix: r.dst.Pix[r.dst.PixOffset(in.Min.X, in.Min.Y):], Stride: r.dst.Stride, Rect: in}
	on := r.on(&part)
	if x.small == nil {
		on.block(r.font, in, 15, r.pal.OnDark, x.name+"\n"+x.why)
		return
	}
	v := f.sheetView(x)
	x.small.Draw(&part, toStored(v.Inverse(), x.size, x.small.Size()))
	words := Word("sheet.on.none", x.name)
	if x.ties != nil {
		on.sheet(x.ties, x.columns, v)
		words = Word("sheet.on.found", x.name, len(x.ties))
		if x.accepted {
			words = Word("sheet.on.accepted", x.name, len(x.ties))
		}
	}
	on.plate(in.Min.X+r.n(8), in.Min.Y+r.n(8), r.pal.OnDark, dark(), words)
}

// sheet draws corners found: rows as lines, every corner as a ring, the first one named.
func (r brush) sheet(ties []photo.Tie, columns int, v Viewport) {
	at := make([]geom.Px, len(ties))
	for i, t := range ties {
		at[i] = v.Device(t.Px)
	}
	for y := 0; columns > 0 && y+columns <= len(at); y += columns {
		ink.Stroke(r.dst, at[y:y+columns], false, r.u(3), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
		ink.Stroke(r.dst, at[y:y+columns], false, r.u(1.2), r.pal.ChosenOnDark, nil)
	}
	radius := r.u(5)
	if columns > 1 && len(at) > columns {
		radius = min(radius, 0.3*math.Min(at[0].Dist(at[1]), at[0].Dist(at[columns])))
	}
	for _, p := range at {
		ink.Ring(r.dst, p, radius, r.u(2.6), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5))
		ink.Ring(r.dst, p, radius, r.u(1.2), r.pal.OnDark)
	}
	if len(at) > 0 {
		r.tag(at[0], "1", r.pal.ChosenOnDark)
	}
}
