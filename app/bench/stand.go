package bench

import (
	"fmt"
	"image"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/photo"
)

// standRoom is what is known of the lab's camera stands, the sheet that a lens is being measured from, and what is offered to the
// other faces.
type standRoom struct {
	read  bool // from the library
	all   []atlas.Stand
	name  string // of the stand in use, "" for none
	sheet sheetRoom
	batch batchRoom
}

// StandRow is one stand of the lab.
type StandRow struct {
	Name   string
	Words  string // what was measured on it, and when
	Chosen bool
}

// stands are the stands of the lab, read once.
func (b *Bench) stands() []atlas.Stand {
	s := &b.stand
	if !s.read && b.lab.lib != nil {
		all, err := b.lab.lib.Stands()
		if err != nil {
			b.Report(err)
		}
		s.all, s.read = all, true
		if s.name == "" {
			s.name = b.standOfFace()
		}
	}
	return s.all
}

// standOfFace is the stand that the chosen face was scaled on, as far as its lens or the scale carried to it tell, "" when they do not.
func (b *Bench) standOfFace() string {
	p, _ := b.Plate()
	d, _ := p.Calibration.CarriedFrom()
	for _, s := range b.stand.all {
		if d.Stand == s.Name || p.Calibration.Lens != nil && s.Lens != nil && *s.Lens == *p.Calibration.Lens {
			return s.Name
		}
	}
	return ""
}

// Stands are the stands of the lab, by name.
func (b *Bench) Stands() []StandRow {
	var out []StandRow
	for _, s := range b.stands() {
		out = append(out, StandRow{s.Name, b.standWords(s), s.Name == b.stand.name})
	}
	return out
}

// standInUse is the stand that was chosen; ok is false for none.
func (b *Bench) standInUse() (atlas.Stand, bool) {
	all := b.stands()
	i := slices.IndexFunc(all, func(s atlas.Stand) bool { return s.Name == b.stand.name })
	if b.stand.name == "" || i < 0 {
		return atlas.Stand{}, false
	}
	return all[i], true
}

// ChooseStand takes a stand's settings for the scale being laid, "" none. The scale in force stays.
func (b *Bench) ChooseStand(name string) {
	b.stand.name = name
	if s, ok := b.standInUse(); ok {
		d := &b.draw.scale
		if s.Length > 0 {
			d.Length = s.Length
		}
		if s.Width > 0 && s.Tall > 0 {
			d.Width, d.Height = s.Width, s.Tall
		}
		if s.Height != (photo.ScaleHeight{}) {
			d.Level, d.Drop, d.Camera = atlas.No, s.Height.Drop, s.Height.Camera
		}
	}
	b.checkScale()
}

// StandWords tell what the stand in use knows, and whether its lens is of this photograph.
func (b *Bench) StandWords() string {
	var parts []string
	s, chosen := b.standInUse()
	switch {
	case chosen:
		parts = append(parts, b.standWords(s))
	case len(b.stands()) == 0:
		parts = append(parts, Word("stand.none"))
	default:
		parts = append(parts, Word("stand.choose"))
	}
	if b.stand.sheet.lens != nil {
		parts = append(parts, Word("stand.lens.new"))
	}
	if p, ok := b.Plate(); ok && chosen && s.Lens != nil && s.Lens.Size != p.Photo.Size {
		parts = append(parts, Word("stand.lens.other", s.Lens.Size.X, s.Lens.Size.Y))
	}
	return strings.Join(parts, " ")
}

func (b *Bench) standWords(s atlas.Stand) string {
	var parts []string
	if s.Lens != nil {
		parts = append(parts, lensWords(s.Lens))
	} else {
		parts = append(parts, Word("stand.lens.none"))
	}
	if h := s.Height; h.Camera > 0 {
		parts = append(parts, Word("stand.height", h.Camera, h.Drop))
	}
	switch {
	case s.Width > 0 && s.Tall > 0:
		parts = append(parts, Word("scale.ofstand", s.Width, s.Tall))
	case s.Length > 0:
		parts = append(parts, Word("stand.ruler", s.Length))
	}
	if s.Colour != nil {
		parts = append(parts, Word("stand.colour"))
	}
	parts = append(parts, Word("stand.set", s.Set.Local().Format("2 January 2006")))
	return strings.Join(parts, " ")
}

// How far towards the picture's corners a sheet must have reached, as a share of the way from the middle, for the lens to be called measured
// up to the corners, or most of the way there. Common practice, no source.
const (
	reachAll  = 0.85
	reachMost = 0.6
)

// lensWords tell how well a lens was measured and how far its sheet reached.
func lensWords(l *photo.Lens) string {
	w := Word("lens.one", l.RMS)
	if l.Views > 1 {
		w = Word("lens.views", l.Views, l.RMS)
	}
	switch {
	case l.Reach >= reachAll:
		return w + " " + Word("lens.reach.all")
	case l.Reach >= reachMost:
		return w + " " + Word("lens.reach.most", 100*l.Reach)
	}
	return w + " " + Word("lens.reach.little", 100*l.Reach)
}

// lensFor is the lens that photographs of a size are taken through: the one just measured, else that of the stand in use.
func (b *Bench) lensFor(size image.Point) *photo.Lens {
	if l := b.stand.sheet.lens; l != nil && l.Size == size {
		return l
	}
	if s, ok := b.standInUse(); ok && s.Lens != nil && s.Lens.Size == size {
		return s.Lens
	}
	return nil
}

// KeepStand keeps the lens, heights, size of the scale and colour in force under a name. What is not known here stays as it was kept
// before.
func (b *Bench) KeepStand(name string) error {
	if err := b.writable(); err != nil {
		return err
	}
	name = strings.TrimSpace(name)
	if name == "" {
		return fmt.Errorf("%w: %s", ErrForm, Word("stand.name.ask"))
	}
	s := atlas.Stand{Name: name}
	if i := slices.IndexFunc(b.stands(), func(x atlas.Stand) bool { return x.Name == name }); i >= 0 {
		s = b.stands()[i]
	}
	p, _ := b.Plate()
	d := b.draw.scale
	switch l := b.stand.sheet.lens; {
	case l != nil:
		s.Lens = l
	case p.Calibration.Lens != nil:
		s.Lens = p.Calibration.Lens
	}
	if h := p.Calibration.Height; h != (photo.ScaleHeight{}) {
		s.Height = h
	} else if d.Level == atlas.No && d.Camera > 0 {
		s.Height = photo.ScaleHeight{Drop: d.Drop, Camera: d.Camera}
	} else if d.Level == atlas.Yes {
		s.Height = photo.ScaleHeight{}
	}
	if d.Length > 0 {
		s.Length = d.Length
	}
	if d.Width > 0 && d.Height > 0 {
		s.Width, s.Tall = d.Width, d.Height
	}
	if p.Colour != nil {
		s.Colour = p.Colour
	}
	s.Set = b.o.Now().UTC()
	if err := b.lab.lib.SaveStand(s); err != nil {
		return err
	}
	b.stand.read, b.stand.name, b.stand.sheet = false, name, sheetRoom{Columns: b.stand.sheet.Columns, Rows: b.stand.sheet.Rows, Side: b.stand.sheet.Side}
	b.checkScale()
	b.hint(Word("stand.kept", name), false)
	b.changed(SelectionChanged)
	return nil
}

// RemoveStand takes a stand away. Faces scaled with it keep their scale.
func (b *Bench) RemoveStand(name string) {
	if err := b.writable(); err != nil {
		b.Report(err)
		return
	}
	b.Report(b.lab.lib.RemoveStand(name))
	b.stand.read = false
	if b.stand.name == name {
		b.stand.name = ""
	}
	b.checkScale()
}

// ScaleThroughLens lays the scale in force anew through the lens of the stand, one undo step.
func (b *Bench) ScaleThroughLens() error {
	return b.edit(Word("step.lens"), "", func(p atlas.Plate) (atlas.Plate, error) {
		l := b.lensFor(p.Photo.Size)
		if l == nil {
			return p, fmt.Errorf("%w: %s", ErrForm, Word("stand.lens.which"))
		}
		c, err := p.Calibration.WithLens(l)
		if err == nil {
			err = c.Check(p.Photo.Size)
		}
		if err != nil {
			return p, err
		}
		p.Calibration = c.Squared(p.MiddlePx())
		return b.relaid(p)
	})
}

// LensWaits reports whether the face has a scale of its own that was laid without the lens now known.
func (b *Bench) LensWaits() bool {
	p, ok := b.Plate()
	if !ok || p.Calibration.Status == photo.Nominal || len(p.Calibration.Ties) < 2 {
		return false
	}
	l := b.lensFor(p.Photo.Size)
	return l != nil && !p.Calibration.Map().Equal(photo.Mapping{ToMM: p.Calibration.ToMM, Lens: l})
}

// levelled corrects a scale for lying off the face, or widens its spread where nobody knows how far.
func (s ScaleDraft) levelled(c photo.Calibration) (photo.Calibration, error) {
	if s.Level != atlas.No {
		return c, nil
	}
	if s.Camera > 0 && s.Drop != 0 {
		return c.WithHeight(photo.ScaleHeight{Drop: s.Drop, Camera: s.Camera})
	}
	return c.Doubted(photo.Doubt{Why: photo.HeightUnknown, Share: photo.HeightShare(s.Drop, s.Camera)}), nil
}

// doubtWords tell through which lens lengths are measured, what puts them in doubt, and how far they are good.
func doubtWords(c photo.Calibration, size image.Point) string {
	var parts []string
	if c.Lens != nil {
		parts = append(parts, Word("scale.lens"))
	}
	for _, d := range c.Doubts {
		switch {
		case d.Why == photo.HeightUnknown:
			parts = append(parts, Word("scale.doubt.height", 100*d.Share))
		case d.Why == photo.ByTies:
			parts = append(parts, Word("scale.doubt.ties", 100*d.Share))
		case d.Stand != "":
			parts = append(parts, Word("scale.doubt.carried.stand", d.From, d.Stand, 100*d.Share))
		default:
			parts = append(parts, Word("scale.doubt.carried", d.From, 100*d.Share))
		}
	}
	if r := c.Report(size); r.Spread > 0 {
		parts = append(parts, Word("scale.spread", 100*r.Spread))
	}
	return strings.Join(parts, " ")
}
