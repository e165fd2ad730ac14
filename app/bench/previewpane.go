package bench

import (
	"image"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// previewPane shows the first page of the hand-out as it will leave, on a dark table.
type previewPane struct {
	b     *Bench
	w, h  int
	scale float64
	page  func() (page *image.RGBA, making bool, none string)
	wants Change

	of    *image.RGBA  // the page that picture holds
	sheet *photo.Image // ready to be painted at any zoom
	view  Viewport
	moved bool
	press press
}

// handOutPage is the first page of the hand-out, and what to say while there is none.
func (b *Bench) handOutPage() (page *image.RGBA, making bool, none string) {
	if none = b.out.problem; none == "" {
		none = Word("preview.none")
	}
	return b.out.page, b.out.making != "" && b.out.problem == "", none
}

// PreviewPane shows the picture to be handed out.
func (b *Bench) PreviewPane() Pane { return b.preview }

// Resize tells the size in device pixels and how many of them make one unit.
func (p *previewPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
}

// Wants reports whether the preview must be painted again.
func (p *previewPane) Wants(c Change) bool { return c&(ScreenChanged|p.wants) != 0 }

func (p *previewPane) lay() {
	m := int(math.Round(14 * p.scale))
	v := &p.view
	v.X, v.Y, v.W, v.H = m, m, max(1, p.w-2*m), max(1, p.h-2*m)
	if s := p.sheet.Size(); !p.moved || v.Zoom == 0 {
		*v = v.Fit(float64(s.X), float64(s.Y))
	}
}

// Paint fills dst.
func (p *previewPane) Paint(dst *image.RGBA) {
	if p.w != dst.Rect.Dx() || p.h != dst.Rect.Dy() {
		p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale)
	}
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Surround)
	if b.blank {
		return
	}
	r := b.brush(dst, p.scale)
	page, making, words := p.page()
	if page == nil {
		if making {
			words = Word("preview.making")
		}
		p.of, p.sheet = nil, nil
		r.block(r.font, dst.Rect, 14, b.pal.OnDark, words)
		return
	}
	if page != p.of {
		p.of, p.sheet = page, photo.NewImage(page)
	}
	p.lay()
	p.sheet.Draw(dst, p.view.Inverse())
	if making {
		r.plate(r.n(10), r.n(10), b.pal.OnDark, dark(), Word("preview.making"))
	}
}

// Down begins a pan.
func (p *previewPane) Down(at geom.Px, b Button, m Mods) {
	p.press = press{down: true, from: at, last: at}
	if m.Clicks == 2 {
		p.moved = false
		p.b.changed(p.wants)
	}
}

// Drag pans.
func (p *previewPane) Drag(at geom.Px) {
	if !p.press.down || p.sheet == nil || (!p.press.moved && at.Dist(p.press.from) < p.scale*tremor) {
		return
	}
	p.lay()
	s := p.sheet.Size()
	p.view = p.view.Pan(at.X-p.press.last.X, at.Y-p.press.last.Y).Within(float64(s.X), float64(s.Y))
	p.moved, p.press.moved, p.press.last = true, true, at
	p.b.changed(p.wants)
}

// Up ends a pan.
func (p *previewPane) Up(at geom.Px) { p.press = press{} }

// Hover and Leave have nothing to show.
func (p *previewPane) Hover(at geom.Px) {}

// Leave has nothing to take away.
func (p *previewPane) Leave() {}

// Wheel comes nearer or goes further about the pointer.
func (p *previewPane) Wheel(at geom.Px, notches float64, m Mods) {
	if p.sheet == nil {
		return
	}
	p.lay()
	s := p.sheet.Size()
	least := p.view.Fit(float64(s.X), float64(s.Y)).Zoom
	p.view = p.view.ZoomAt(at, math.Pow(1.25, notches), least, 8)
	p.moved = p.view.Zoom > least
	p.b.changed(p.wants)
}

// Cursor is the shape of the pointer.
func (p *previewPane) Cursor() Cursor {
	if p.press.down && p.press.moved {
		return Grab
	}
	return Default
}

// Pointer is none.
func (p *previewPane) Pointer() (at geom.Px, radius float64, ok bool) { return }
