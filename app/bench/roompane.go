package bench

import (
	"fmt"
	"image"
	"math"
	"time"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// fullPane is one picture for a whole screen, with words large enough for the back of a room above and below it.
type fullPane struct {
	b     *Bench
	w, h  int
	scale float64

	of      *image.RGBA
	sheet   *photo.Image
	content func() fullContent
	wants   Change
}

// fullContent is what the pane shows now.
type fullContent struct {
	picture          *image.RGBA
	left, right, low string // words at the top left and right, and below
	warn             bool   // the right words need attention
	nothing          string // said instead of a picture
}

// RoomPane is the station shown to a room.
func (b *Bench) RoomPane() Pane { return b.roomPane }

// Resize tells the size in device pixels and how many of them make one unit.
func (p *fullPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
}

// Wants reports whether the picture must be painted again.
func (p *fullPane) Wants(c Change) bool { return c&(ScreenChanged|p.wants) != 0 }

// Paint fills dst. Words are a twentieth of the screen high: from ten screen heights away that is 17 minutes of arc, where
// 5 is what a good eye just reads (Snellen; from memory).
func (p *fullPane) Paint(dst *image.RGBA) {
	if p.w != dst.Rect.Dx() || p.h != dst.Rect.Dy() {
		p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale)
	}
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Surround)
	if b.blank {
		return
	}
	c := p.content()
	r := b.brush(dst, 1) // sizes here are shares of the screen, not of the text setting
	size := math.Max(float64(p.h)/20, 14)
	top, m := int(size*1.7), int(size*0.6)
	r.text(r.bold, float64(m), float64(top)/2, size, b.pal.OnDark, c.left)
	right := b.pal.OnDark
	if c.warn {
		right = b.pal.ChosenOnDark
	}
	r.ending(r.bold, float64(p.w-m), float64(top)/2, size, right, c.right)
	low := 0
	if c.low != "" {
		small := size * 0.72
		lines := r.wrap(r.font, small, float64(p.w-2*m), c.low)
		step := r.lineHeight(small)
		low = int(step*float64(len(lines))) + m
		for i, line := range lines {
			r.centred(r.font, float64(p.w)/2, float64(p.h-low)+step*(float64(i)+0.5)+float64(m)/3, small, b.pal.OnDark, line)
		}
	}
	room := image.Rect(m, top, p.w-m, p.h-max(low, m))
	if c.picture == nil {
		r.block(r.font, room, size, b.pal.OnDark, c.nothing)
		return
	}
	p.put(dst, room, c.picture)
}

// put shows a picture whole in room.
func (p *fullPane) put(dst *image.RGBA, room image.Rectangle, picture *image.RGBA) {
	if picture != p.of {
		p.of, p.sheet = picture, photo.NewImage(picture)
	}
	if room.Dx() < 1 || room.Dy() < 1 {
		return
	}
	s := p.sheet.Size()
	v := Viewport{X: room.Min.X, Y: room.Min.Y, W: room.Dx(), H: room.Dy()}.Fit(float64(s.X), float64(s.Y))
	p.sheet.Draw(dst, v.Inverse())
}

// roomContent is what a room sees: station, time left, question. No answer is at hand here.
func (b *Bench) roomContent() fullContent {
	i := b.Room()
	if i.Of == 0 {
		return fullContent{nothing: Word("room.none")}
	}
	c := fullContent{left: Word("room.station", i.N, i.Of), right: clock(i.Left), low: i.Question, warn: i.Left <= 15*time.Second}
	x, none := b.shotOf(b.show.at)
	if c.nothing = none; x != nil {
		c.picture = x.picture
	}
	switch {
	case i.Ended:
		c.right = Word("room.ended")
	case !i.Running:
		c.right = Word("room.held", clock(i.Left))
	}
	return c
}

// clock writes a time that is left as minutes and seconds; a second that has begun counts whole.
func clock(d time.Duration) string {
	s := int(math.Ceil(d.Seconds()))
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// Down and the other hands of the pointer do nothing: what a room sees is moved by keys alone.
func (p *fullPane) Down(at geom.Px, b Button, m Mods) {}

// Drag does nothing.
func (p *fullPane) Drag(at geom.Px) {}

// Up does nothing.
func (p *fullPane) Up(at geom.Px) {}

// Hover does nothing.
func (p *fullPane) Hover(at geom.Px) {}

// Leave does nothing.
func (p *fullPane) Leave() {}

// Wheel does nothing.
func (p *fullPane) Wheel(at geom.Px, notches float64, m Mods) {}

// Cursor is the shape of the pointer.
func (p *fullPane) Cursor() Cursor { return Default }

// Pointer is none.
func (p *fullPane) Pointer() (at geom.Px, radius float64, ok bool) { return }
