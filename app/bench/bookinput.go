package bench

import (
	"image"
	"math"

	"sectionary/slices/geom"
)

// Down takes hold of the slider, or begins to pan.
func (k *bookPane) Down(at geom.Px, button Button, m Mods) {
	k.press = press{down: true, from: at, last: at}
	k.slide = !k.track.Empty() && image.Pt(int(at.X), int(at.Y)).In(k.track.Inset(-round(12*k.scale)))
	switch {
	case k.slide:
		k.slideTo(at)
	case m.Clicks == 2:
		k.home()
	}
}

// home shows both faces whole.
func (k *bookPane) home() {
	k.zoom, k.pan = 1, geom.MM{}
	k.b.changed(ViewChanged)
}

func (k *bookPane) slideTo(at geom.Px) {
	if w := float64(k.track.Dx()); w > 0 {
		k.b.SetBookMix((at.X - float64(k.track.Min.X)) / w)
	}
}

// Drag moves the slider, or pans both pages alike.
func (k *bookPane) Drag(at geom.Px) {
	p := &k.press
	if !p.down {
		return
	}
	if k.slide {
		k.slideTo(at)
		return
	}
	if l := k.under(p.from); l != nil && l.to[0] != 0 {
		k.pan.X -= (at.X - p.last.X) / l.to[0]
		k.pan.Y -= (at.Y - p.last.Y) / l.to[4]
		far := 400.0
		k.pan = geom.MM{X: math.Max(-far, math.Min(far, k.pan.X)), Y: math.Max(-far, math.Min(far, k.pan.Y))}
		k.b.changed(ViewChanged)
	}
	p.last = at
}

// Up lets go.
func (k *bookPane) Up(geom.Px) { k.press, k.slide = press{}, false }

// under is the page under a place, nil for none.
func (k *bookPane) under(at geom.Px) *leaf {
	for i := range k.leafs {
		if image.Pt(int(at.X), int(at.Y)).In(k.leafs[i].rect) {
			return &k.leafs[i]
		}
	}
	return nil
}

// Hover follows the pointer.
func (k *bookPane) Hover(at geom.Px) { k.here = &at; k.b.changed(PointerChanged) }

// Leave follows it out of the pane.
func (k *bookPane) Leave() { k.here = nil; k.b.changed(PointerChanged) }

// Wheel comes nearer or goes further on both pages, about the pointer.
func (k *bookPane) Wheel(at geom.Px, notches float64, _ Mods) {
	l := k.under(at)
	if l == nil {
		return
	}
	m := geom.MM{X: (at.X - l.to[2]) / l.to[0], Y: (at.Y - l.to[5]) / l.to[4]}
	old := math.Max(1, k.zoom)
	k.zoom = math.Max(1, math.Min(16, old*math.Pow(1.25, notches)))
	f := old / k.zoom
	k.pan = geom.MM{X: m.X - (m.X-k.pan.X)*f, Y: m.Y - (m.Y-k.pan.Y)*f}
	if k.zoom == 1 {
		k.pan = geom.MM{}
	}
	k.b.changed(ViewChanged)
}

// Cursor is the shape of the pointer.
func (k *bookPane) Cursor() Cursor {
	switch {
	case k.press.down && !k.slide:
		return Grab
	case k.here != nil && k.under(*k.here) != nil:
		return Cross
	}
	return Default
}

// Pointer is, on the other page, the place that lies across the kerf from the pointer.
func (k *bookPane) Pointer() (at geom.Px, radius float64, ok bool) {
	if k.here == nil || len(k.leafs) != 2 || !k.b.book.match {
		return at, 0, false
	}
	from := k.under(*k.here)
	if from == nil {
		return at, 0, false
	}
	to := &k.leafs[0]
	if from == to {
		to = &k.leafs[1]
	}
	m := geom.MM{X: (k.here.X - from.to[2]) / from.to[0], Y: (k.here.Y - from.to[5]) / from.to[4]}
	at = geom.Px{X: to.to[0]*m.X + to.to[2], Y: to.to[4]*m.Y + to.to[5]}
	return at, 0, image.Pt(round(at.X), round(at.Y)).In(to.rect)
}

// bookKey takes the arrows while the faces lie on each other: they move the slider.
func (b *Bench) bookKey(name string) bool {
	by := map[string]float64{"Left": -0.1, "Right": 0.1}[name]
	if by == 0 || b.screen != BookScreen {
		return false
	}
	b.SetBookMix(b.book.mix + by)
	return true
}
