package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"
)

// manner is how a button looks.
type manner uint8

const (
	flat    manner = iota // words on the ground it lies on
	edged                 // with a hairline: can be pressed, nothing urgent
	primary               // the one thing to do next; at most one on a panel
	railed                // on the side rail: as wide as the rail, words after the icon
	choice                // one of several, the chosen one tinted
	lined                 // a row of a list: as wide as the list
)

// button is a flat button of our own: icon and words, a focus ring, a tip, Space or Return to press. Keys it does
// not use go on to the window, so a command never takes the keyboard away from the bench.
type button struct {
	widget.BaseWidget
	w                     *Window
	id, icon, label, note string // note: lesser words at the far end
	tip                   string
	manner                manner
	on                    bool // chosen
	off                   bool // cannot be pressed now
	tapped                func()
	hover, down, focus    bool
}

var (
	_ fyne.Focusable    = (*button)(nil)
	_ desktop.Hoverable = (*button)(nil)
	_ desktop.Keyable   = (*button)(nil)
)

func (w *Window) button(id, icon, label string, m manner, tapped func()) *button {
	b := &button{w: w, id: id, icon: icon, label: label, manner: m, tapped: tapped}
	b.ExtendBaseWidget(b)
	return b
}

// tipped gives the tip shown after the pointer has rested on the button.
func (b *button) tipped(tip string) *button { b.tip = tip; return b }

// state changes what the button shows and draws it again if that is new.
func (b *button) state(label string, on, off bool) {
	if b.label == label && b.on == on && b.off == off {
		return
	}
	b.label, b.on, b.off = label, on, off
	b.Refresh()
}

func (b *button) setOn(on bool)   { b.state(b.label, on, b.off) }
func (b *button) setOff(off bool) { b.state(b.label, b.on, off) }

func (b *button) press() {
	b.w.tips.hide()
	if b.off || b.tapped == nil {
		return
	}
	b.tapped()
}

// Tapped implements fyne.Tappable; afterwards the keyboard belongs to the picture again.
func (b *button) Tapped(*fyne.PointEvent) {
	b.w.keyboardToPicture()
	b.press()
}

func (b *button) MouseIn(*desktop.MouseEvent)    { b.hover = true; b.Refresh(); b.w.tips.after(b) }
func (b *button) MouseMoved(*desktop.MouseEvent) {}
func (b *button) MouseOut()                      { b.hover = false; b.Refresh(); b.w.tips.hide() }
func (b *button) MouseDown(*desktop.MouseEvent)  { b.down = true; b.Refresh() }
func (b *button) MouseUp(*desktop.MouseEvent)    { b.down = false; b.Refresh() }
func (b *button) FocusGained()                   { b.focus = true; b.Refresh(); b.w.reveal(b); b.w.noteStatus() }
func (b *button) FocusLost()                     { b.focus = false; b.Refresh() }

// Cursor implements desktop.Cursorable.
func (b *button) Cursor() desktop.Cursor {
	if b.off {
		return desktop.DefaultCursor
	}
	return desktop.PointerCursor
}

func (b *button) TypedRune(r rune) {
	if r != ' ' {
		b.w.typedRune(r)
	}
}

func (b *button) TypedKey(e *fyne.KeyEvent) {
	switch e.Name {
	case fyne.KeySpace, fyne.KeyReturn, fyne.KeyEnter:
		b.press()
	default:
		b.w.typedKey(e)
	}
}

func (b *button) KeyDown(e *fyne.KeyEvent) {
	if e.Name != fyne.KeySpace {
		b.w.keyDown(e)
	}
}

func (b *button) KeyUp(e *fyne.KeyEvent) { b.w.keyUp(e) }

func (b *button) rank() rank {
	switch b.manner {
	case primary:
		return strong
	}
	return body
}

func (b *button) pad() float32 {
	if b.label == "" {
		return 10
	}
	return 12
}

func (b *button) iconSize() float32 {
	if b.icon == "" {
		return 0
	}
	return theme.Size(theme.SizeNameInlineIcon)
}

func (b *button) MinSize() fyne.Size {
	w := 2 * b.pad()
	if b.icon != "" {
		w += b.iconSize()
	}
	if b.label != "" {
		if b.icon != "" {
			w += 8
		}
		w += measureWord(b.label, b.rank()).Width
	}
	if b.note != "" {
		w += 10 + measureWord(b.note, caption).Width
	}
	return fyne.NewSize(max(w, target()), target())
}

func (b *button) targetName() string { return b.id }

func (b *button) CreateRenderer() fyne.WidgetRenderer {
	r := &buttonRenderer{b: b, ground: canvas.NewRectangle(nil), mark: canvas.NewRectangle(nil),
		ring: canvas.NewRectangle(nil), icon: canvas.NewImageFromResource(nil), text: canvas.NewText("", nil), note: canvas.NewText("", nil)}
	r.icon.FillMode = canvas.ImageFillContain
	r.style()
	return r
}

type buttonRenderer struct {
	b                  *button
	ground, mark, ring *canvas.Rectangle
	icon               *canvas.Image
	text, note         *canvas.Text
	shown              string // name of the icon resource in use
}

func (r *buttonRenderer) style() {
	b := r.b
	words, ground, edge := theme.ColorNameForeground, fyne.ThemeColorName(""), fyne.ThemeColorName("")
	switch b.manner {
	case edged:
		edge = theme.ColorNameInputBorder
	case choice:
		edge = theme.ColorNameInputBorder
	case primary:
		ground, words = theme.ColorNamePrimary, theme.ColorNameForegroundOnPrimary
	}
	if b.on {
		ground, words = colorTint, theme.ColorNamePrimary
		edge = theme.ColorNamePrimary
		if b.manner == railed || b.manner == lined || b.manner == flat {
			edge = ""
		}
	}
	if b.off {
		words = theme.ColorNameDisabled
		if b.manner == primary {
			ground, edge = "", theme.ColorNameInputBorder
		}
	}
	fill(r.ground, ground)
	switch {
	case b.off || ground == theme.ColorNamePrimary && !b.hover && !b.down:
	case b.down:
		fillOver(r.ground, ground, theme.ColorNamePressed)
	case b.hover:
		fillOver(r.ground, ground, theme.ColorNameHover)
	}
	r.ground.StrokeWidth, r.ground.StrokeColor, r.ground.CornerRadius = 0, nil, 3
	if edge != "" {
		r.ground.StrokeWidth, r.ground.StrokeColor = 1, ink(edge)
	}
	r.mark.Hidden = !b.on || !(b.manner == railed || b.manner == lined || b.manner == flat)
	fill(r.mark, theme.ColorNamePrimary)
	r.ring.Hidden = !b.focus
	r.ring.StrokeColor, r.ring.StrokeWidth, r.ring.CornerRadius = ink(theme.ColorNameFocus), 2, 4
	if b.icon != "" {
		res := iconResource(b.icon, ink(words))
		if res.Name() != r.shown {
			r.icon.Resource, r.shown = res, res.Name()
		}
	}
	r.icon.Hidden = b.icon == ""
	r.text.Text, r.text.TextSize, r.text.TextStyle, r.text.Color = b.label, b.rank().size(), b.rank().style(), ink(words)
	if b.on && b.manner != primary {
		r.text.TextStyle.Bold = b.manner == railed
	}
	note := colorMuted
	if b.on && !b.off {
		note = words
	}
	r.note.Text, r.note.TextSize, r.note.Color = b.note, caption.size(), ink(note)
	r.text.Hidden, r.note.Hidden = b.label == "", b.note == ""
}

func fill(r *canvas.Rectangle, c fyne.ThemeColorName) {
	r.FillColor = nil
	if c != "" {
		r.FillColor = ink(c)
	}
}

// fillOver lays a see-through colour over another.
func fillOver(r *canvas.Rectangle, under, over fyne.ThemeColorName) {
	if under == "" {
		fill(r, over)
		return
	}
	ur, ug, ub, _ := ink(under).RGBA()
	or, og, ob, oa := ink(over).RGBA() // premultiplied
	mix := func(u, o uint32) uint8 { return uint8((u*(0xffff-oa)/0xffff + o) >> 8) }
	c := rgb(uint32(mix(ur, or))<<16 | uint32(mix(ug, og))<<8 | uint32(mix(ub, ob)))
	r.FillColor = c
}

func (r *buttonRenderer) Layout(size fyne.Size) {
	b := r.b
	r.ground.Resize(size)
	r.ring.Move(fyne.NewPos(1, 1))
	r.ring.Resize(size.SubtractWidthHeight(2, 2))
	if b.manner == flat {
		r.mark.Move(fyne.NewPos(6, size.Height-3))
		r.mark.Resize(fyne.NewSize(size.Width-12, 3))
	} else {
		r.mark.Move(fyne.NewPos(0, 4))
		r.mark.Resize(fyne.NewSize(4, size.Height-8))
	}
	is := b.iconSize()
	tw := r.text.MinSize()
	content := tw.Width
	if b.label == "" {
		content = 0
	}
	if b.icon != "" {
		content += is
		if b.label != "" {
			content += 8
		}
	}
	x := (size.Width - content) / 2
	if b.manner == railed || b.manner == lined || b.note != "" {
		x = b.pad()
	}
	r.icon.Move(fyne.NewPos(x, (size.Height-is)/2))
	r.icon.Resize(fyne.NewSize(is, is))
	if b.icon != "" {
		x += is + 8
	}
	r.text.Move(fyne.NewPos(x, (size.Height-tw.Height)/2))
	r.text.Resize(tw)
	nw := r.note.MinSize()
	r.note.Move(fyne.NewPos(size.Width-b.pad()-nw.Width, (size.Height-nw.Height)/2))
	r.note.Resize(nw)
}

func (r *buttonRenderer) MinSize() fyne.Size { return r.b.MinSize() }

func (r *buttonRenderer) Refresh() {
	r.style()
	r.Layout(r.b.Size())
	for _, o := range r.Objects() {
		o.Refresh()
	}
}

func (r *buttonRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.ground, r.mark, r.icon, r.text, r.note, r.ring}
}

func (r *buttonRenderer) Destroy() {}
