package ui

import (
	"image"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"sectionary/app/bench"
	"sectionary/slices/geom"
)

// pane shows one painted picture of the bench and hands it the pointer. It keeps no state of the picture: only
// the buffer it is painted into and how many device pixels make one unit.
type pane struct {
	widget.BaseWidget
	w      *Window
	id     string
	p      bench.Pane
	raster *canvas.Raster
	buf    *image.RGBA
	scale  float64 // device pixels per unit
	least  fyne.Size
	design fyne.Size // the smallest place the pane's words fit at 100 %; zero: any

	cross  pointerCross // the linked pointer
	ring   *canvas.Rectangle
	layers *fyne.Container

	painted, frames int            // how often the picture was painted, and frames shown with the linked pointer moved
	tick            *canvas.Raster // one dot that is made anew in every such frame; only while a test measures

	held     bool // a button is down
	lastDown time.Time
	lastAt   fyne.Position
	clicks   int
	focus    bool
	plain    bool // no ring when it has the keyboard: nothing but the picture stands on the wall
}

var (
	_ fyne.Draggable     = (*pane)(nil)
	_ fyne.Scrollable    = (*pane)(nil)
	_ fyne.Focusable     = (*pane)(nil)
	_ desktop.Mouseable  = (*pane)(nil)
	_ desktop.Hoverable  = (*pane)(nil)
	_ desktop.Keyable    = (*pane)(nil)
	_ desktop.Cursorable = (*pane)(nil)
)

func (w *Window) pane(id string, p bench.Pane) *pane {
	v := &pane{w: w, id: id, p: p, scale: 1, least: fyne.NewSize(60, 60)}
	v.raster = canvas.NewRaster(v.paint)
	v.raster.ScaleMode = canvas.ImageScalePixels
	v.cross = newPointerCross()
	v.ring = canvas.NewRectangle(nil)
	v.ring.StrokeColor, v.ring.StrokeWidth, v.ring.Hidden = ink(theme.ColorNameFocus), 2, true
	v.layers = container.New(&paneLayout{v}, append(append([]fyne.CanvasObject{v.raster}, v.cross.objects()...), v.ring)...)
	if w.status.path != "" {
		v.tick = canvas.NewRaster(func(w, h int) image.Image { v.frames++; return image.NewRGBA(image.Rect(0, 0, 1, 1)) })
		v.layers.Add(v.tick)
	}
	v.ExtendBaseWidget(v)
	return v
}

// paint is the raster's generator: w and h are device pixels.
func (v *pane) paint(w, h int) image.Image {
	if width := v.Size().Width; width > 0 {
		v.scale = float64(w) / float64(width)
	}
	if v.buf == nil || v.buf.Rect.Dx() != w || v.buf.Rect.Dy() != h {
		v.buf = image.NewRGBA(image.Rect(0, 0, w, h))
	}
	v.p.Resize(w, h, v.scale*v.wordScale())
	v.p.Paint(v.buf)
	v.painted++
	return v.buf
}

// wordScale is how much larger than designed the pane's own words are: as the text setting asks, but never so
// large that they no longer fit the place they were designed for.
func (v *pane) wordScale() float64 {
	s, size := v.w.look.scale(), v.Size()
	if v.design.Width > 0 {
		s = min(s, size.Width/v.design.Width, size.Height/v.design.Height)
	}
	return float64(max(1, s))
}

// px turns a place in units into the pane's device pixels, whose first pixel has its centre at (0, 0).
func (v *pane) px(at fyne.Position) geom.Px {
	return geom.Px{X: float64(at.X)*v.scale - 0.5, Y: float64(at.Y)*v.scale - 0.5}
}

func (v *pane) units(p geom.Px) fyne.Position {
	return fyne.NewPos(float32((p.X+0.5)/v.scale), float32((p.Y+0.5)/v.scale))
}

// changed paints again what the bench says has changed.
func (v *pane) changed(c bench.Change) {
	if !v.Visible() {
		return
	}
	if v.p.Wants(c) {
		v.raster.Refresh()
	}
	v.point()
}

// point moves the linked pointer; the picture under it is not painted again.
func (v *pane) point() {
	if v.tick != nil {
		v.tick.Refresh()
	}
	at, radius, ok := v.p.Pointer()
	c, size := v.units(at), v.Size()
	if !ok || c.X < 0 || c.Y < 0 || c.X > size.Width || c.Y > size.Height {
		v.cross.hide()
		return
	}
	said := ""
	if p, ok := v.p.(interface{ PointerWords() string }); ok {
		said = p.PointerWords()
	}
	v.cross.show(c, float32(radius/v.scale), said, size)
}

func mods(m fyne.KeyModifier) bench.Mods {
	return bench.Mods{Shift: m&fyne.KeyModifierShift != 0, Ctrl: m&fyne.KeyModifierControl != 0, Alt: m&fyne.KeyModifierAlt != 0}
}

// heldMods are the keys held now; scroll and drag events do not carry them.
func heldMods() bench.Mods {
	if d, ok := fyne.CurrentApp().Driver().(desktop.Driver); ok {
		return mods(d.CurrentKeyModifiers())
	}
	return bench.Mods{}
}

func (v *pane) MouseDown(e *desktop.MouseEvent) {
	v.w.focusOn(v)
	if v.held {
		v.p.Up(v.px(v.lastAt)) // the release went elsewhere
	}
	now := time.Now()
	d := e.Position.Subtract(v.lastAt)
	if now.Sub(v.lastDown) < 400*time.Millisecond && d.X*d.X+d.Y*d.Y < 25 {
		v.clicks++
	} else {
		v.clicks = 1
	}
	v.lastDown, v.lastAt, v.held = now, e.Position, true
	m := mods(e.Modifier)
	m.Clicks = v.clicks
	b := bench.Primary
	switch e.Button {
	case desktop.MouseButtonSecondary:
		b = bench.Secondary
	case desktop.MouseButtonTertiary:
		b = bench.Middle
	}
	v.p.Down(v.px(e.Position), b, m)
	v.w.pointers()
}

func (v *pane) MouseUp(e *desktop.MouseEvent) {
	if v.held {
		v.held = false
		v.p.Up(v.px(e.Position))
		v.w.pointers()
	}
}

func (v *pane) Dragged(e *fyne.DragEvent) {
	v.lastAt = e.Position
	if v.held {
		v.p.Drag(v.px(e.Position))
		v.w.pointers()
	}
}

// DragEnd comes after MouseUp of a drag, or instead of it when the button was let go outside the window.
func (v *pane) DragEnd() {
	if v.held {
		v.held = false
		v.p.Up(v.px(v.lastAt))
	}
}

func (v *pane) MouseIn(e *desktop.MouseEvent) { v.MouseMoved(e) }

// MouseMoved gets every move without a drag; Fyne never makes a drag of the secondary button, so it comes here.
func (v *pane) MouseMoved(e *desktop.MouseEvent) {
	if v.held && e.Button == 0 {
		v.held = false
		v.p.Up(v.px(e.Position))
	}
	if v.held {
		v.lastAt = e.Position
		v.p.Drag(v.px(e.Position))
	} else {
		v.p.Hover(v.px(e.Position))
	}
	v.w.pointers()
}

func (v *pane) MouseOut() {
	v.p.Leave()
	v.w.pointers()
}

// notch is how far Fyne says one notch of the wheel scrolls.
const notch = 25

func (v *pane) Scrolled(e *fyne.ScrollEvent) {
	d := e.Scrolled.DY
	if d == 0 {
		d = e.Scrolled.DX // with shift held the wheel comes sideways
	}
	v.p.Wheel(v.px(e.Position), float64(d)/notch, heldMods())
	v.w.pointers()
}

func (v *pane) FocusGained() {
	v.focus = true
	if !v.plain {
		v.ring.Show()
		v.ring.Refresh()
	}
	v.w.noteStatus()
}
func (v *pane) FocusLost()                  { v.focus = false; v.ring.Hide() }
func (v *pane) TypedRune(r rune)            { v.w.typedRune(r) }
func (v *pane) TypedKey(e *fyne.KeyEvent)   { v.w.typedKey(e) }
func (v *pane) KeyDown(e *fyne.KeyEvent)    { v.w.keyDown(e) }
func (v *pane) KeyUp(e *fyne.KeyEvent)      { v.w.keyUp(e) }
func (v *pane) targetName() string          { return v.id }
func (v *pane) MinSize() fyne.Size          { return v.least }
func (v *pane) heightFor(_ float32) float32 { return v.least.Height }

// Cursor implements desktop.Cursorable.
func (v *pane) Cursor() desktop.Cursor {
	switch v.p.Cursor() {
	case bench.Cross:
		return desktop.CrosshairCursor
	case bench.Hand, bench.Grab:
		return desktop.PointerCursor
	}
	return desktop.DefaultCursor
}

func (v *pane) CreateRenderer() fyne.WidgetRenderer {
	clip := container.NewClip(v.layers)
	clip.ExtendBaseWidget(clip) // else its first Resize lays nothing out
	return widget.NewSimpleRenderer(clip)
}

// paneLayout stretches the picture and the focus ring; the pointer's lines move freely.
type paneLayout struct{ v *pane }

func (l *paneLayout) MinSize([]fyne.CanvasObject) fyne.Size { return l.v.least }

func (l *paneLayout) Layout(_ []fyne.CanvasObject, size fyne.Size) {
	l.v.raster.Resize(size)
	if l.v.tick != nil {
		l.v.tick.Resize(fyne.NewSize(1, 1))
	}
	l.v.ring.Move(fyne.NewPos(1, 1))
	l.v.ring.Resize(size.SubtractWidthHeight(2, 2))
}
