package bench

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// ColourMode is what colour is corrected by.
type ColourMode uint8

// The ways to correct colour.
const (
	GreyPatch  ColourMode = iota // one click on a neutral grey
	ColourCard                   // four clicks on the 24-patch card
)

// ColourDraft is a correction being made.
type ColourDraft struct {
	Mode    ColourMode
	Edition photo.Edition
	Points  []geom.Px
	Fit     string // what the correction does, in words
	Problem string
	Ready   bool

	found photo.Correction
}

// Colour is the correction being made.
func (b *Bench) Colour() ColourDraft { return b.draw.colour }

// SetColourMode begins again with a grey patch or a card.
func (b *Bench) SetColourMode(m ColourMode) {
	b.draw.colour.Mode, b.draw.colour.Points = m, nil
	b.checkColour()
}

// SetCardEdition says when the card was made, for the patches changed slightly in November 2014: old is before that.
func (b *Bench) SetCardEdition(old bool) {
	b.draw.colour.Edition = photo.After2014
	if old {
		b.draw.colour.Edition = photo.Before2014
	}
	b.checkColour()
}

// SetAsPhotographed shows the colours of the original, for comparing.
func (b *Bench) SetAsPhotographed(on bool) {
	b.draw.uncorrected = on
	b.changed(ViewChanged | SelectionChanged)
}

// AsPhotographed reports whether the colours of the original are shown.
func (b *Bench) AsPhotographed() bool { return b.draw.uncorrected }

func (c ColourDraft) wants() int {
	if c.Mode == ColourCard {
		return 4
	}
	return 1
}

func (b *Bench) colourPoint(p geom.Px) {
	c := &b.draw.colour
	c.Points = nextPoint(c.Points, p, c.wants())
	b.checkColour()
}

// checkColour works out what the draft does.
func (b *Bench) checkColour() {
	c := &b.draw.colour
	c.Fit, c.Problem, c.Ready, c.found = "", "", false, photo.Correction{}
	if len(c.Points) == c.wants() {
		if fit, words, err := b.colourOf(*c); err != nil {
			c.Problem = Word("colour.bad." + c.key())
		} else {
			c.found, c.Fit, c.Ready = fit, words, true
		}
	}
	b.changed(SelectionChanged | ViewChanged)
}

func (c ColourDraft) key() string {
	if c.Mode == ColourCard {
		return "card"
	}
	return "grey"
}

func (b *Bench) colourOf(c ColourDraft) (fit photo.Correction, words string, err error) {
	if b.doc == nil || !b.doc.whole {
		return fit, "", ErrNoPhoto
	}
	m := b.doc.picture
	if c.Mode == GreyPatch {
		seen, err := photo.ReadGrey(m, c.Points[0])
		if err != nil {
			return fit, "", err
		}
		if fit, err = photo.GreyGains(seen, (seen[0]+seen[1]+seen[2])/3); err != nil {
			return fit, "", err
		}
		was, is := seen.LabD65(), fit.Of(seen).LabD65()
		return fit, Word("colour.fit.grey", tenth(was.A), tenth(was.B), tenth(is.A), tenth(is.B)), nil
	}
	seen, err := photo.ReadChart(m, [4]geom.Px(c.Points))
	if err != nil {
		return fit, "", err
	}
	if fit, err = photo.FitChart(seen, c.Edition); err != nil {
		return fit, "", err
	}
	words = cardWords(fit)
	if fit.After.Mean > 5 { // the limit of the row PH6
		words += " " + Word("colour.poor")
	}
	return fit, words, nil
}

// tenth rounds for showing, so that nothing reads as minus nought.
func tenth(v float64) float64 { return math.Round(10*v)/10 + 0 }

func cardWords(c photo.Correction) string {
	return Word("colour.fit.card", c.Before.Mean, c.Before.Max, c.After.Mean, c.After.Max)
}

// ColourInForce tells in words how the colour of the face was corrected.
func (b *Bench) ColourInForce() string {
	p, ok := b.Plate()
	switch {
	case !ok || p.Colour == nil:
		return Word("colour.none")
	case p.Colour.After.Max == 0:
		return Word("colour.by.grey")
	}
	return Word("colour.by.card") + " " + cardWords(*p.Colour)
}

// AcceptColour makes the draft the correction of the face, one undo step. The original is not changed.
func (b *Bench) AcceptColour() error {
	c := b.draw.colour
	if !c.Ready {
		why := c.Problem
		if why == "" {
			why = b.colourHint()
		}
		return fmt.Errorf("%w: %s", ErrForm, why)
	}
	err := b.edit(Word("step.colour"), "", func(p atlas.Plate) (atlas.Plate, error) {
		p.Colour = &c.found
		return p, nil
	})
	if err == nil {
		b.draw.uncorrected = false
		b.SetTool(ToolPan)
	}
	return err
}

// ClearColour takes the correction away.
func (b *Bench) ClearColour() {
	b.Report(b.edit(Word("step.nocolour"), "", func(p atlas.Plate) (atlas.Plate, error) {
		p.Colour = nil
		return p, nil
	}))
}

// colourHint says which patch to click next.
func (b *Bench) colourHint() string {
	c := b.draw.colour
	switch {
	case b.doc != nil && !b.doc.whole:
		return Word("face.reading")
	case c.Mode == GreyPatch:
		return Word("colour.click.grey")
	case len(c.Points) < 4:
		return Word("colour.click." + strconv.Itoa(len(c.Points)+1))
	}
	return ""
}

// correction is what the face is shown with: the draft while it is looked at, else what was kept.
func (b *Bench) correction(p atlas.Plate) *photo.Correction {
	switch {
	case b.draw.uncorrected:
		return nil
	case b.draw.tool == ToolColour && b.draw.colour.Ready && b.screen == FaceScreen:
		return &b.draw.colour.found
	}
	return p.Colour
}

// correct brings the part of dst that the photograph covers to the colours of the card.
func (f *facePane) correct(dst *image.RGBA, d *faceDoc) {
	c := f.b.correction(d.plate())
	if c == nil {
		return
	}
	size := d.plate().Photo.Size
	lo, hi := d.view.Device(geom.Px{X: -0.5, Y: -0.5}), d.view.Device(geom.Px{X: float64(size.X) - 0.5, Y: float64(size.Y) - 0.5})
	box := image.Rect(int(lo.X), int(lo.Y), int(hi.X), int(hi.Y)).Intersect(dst.Rect)
	if part, ok := dst.SubImage(box).(*image.RGBA); ok && !box.Empty() {
		c.Apply(part)
	}
}

// paintPatches marks what was clicked.
func (f *facePane) paintPatches(r brush, v Viewport) {
	pts := make([]geom.Px, len(f.b.draw.colour.Points))
	for i, p := range f.b.draw.colour.Points {
		pts[i] = v.Device(p)
	}
	if len(pts) == 4 {
		ink.Stroke(r.dst, pts, true, r.u(3.5), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
		ink.Stroke(r.dst, pts, true, r.u(1.4), r.pal.ChosenOnDark, nil)
	}
	for i, p := range pts {
		r.cross(p, r.pal.ChosenOnDark)
		r.tag(p, strconv.Itoa(i+1), r.pal.ChosenOnDark)
	}
}
