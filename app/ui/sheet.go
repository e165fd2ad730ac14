package ui

import (
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
)

// sheet is a slip of paper over the bench that wants an answer. Behind it the bench waits.
type sheet struct {
	w      *Window
	top    *fyne.Container
	slip   *fyne.Container
	roll   *roll
	inner  *table
	foot   *fyne.Container
	width  float32 // wished, at 100 % text
	tall   bool    // as tall as there is room
	escape func()
}

// sheetLayout lays the scrim over everything and the slip in the middle, as tall as its words if there is room.
type sheetLayout struct{ s *sheet }

func (l *sheetLayout) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(200, 100) }

func (l *sheetLayout) Layout(o []fyne.CanvasObject, size fyne.Size) {
	o[0].Resize(size)
	width := floor(min(grown(l.s.width), size.Width-40))
	inner := width - 40
	foot := heightFor(l.s.foot, inner)
	height := ceil(foot) + 16 + 40 + 2
	if !l.s.tall {
		height += ceil(l.s.roll.heightFor(nil, inner))
	}
	if l.s.tall || height > size.Height-40 {
		height = size.Height - 40
	}
	l.s.slip.Resize(fyne.NewSize(width, height))
	l.s.slip.Move(fyne.NewPos((size.Width-width)/2, max(20, (size.Height-height)*0.4)))
}

// sheet makes a slip with a heading, contents and a row of answers at its foot. Show it with open.
func (w *Window) sheet(width float32, content fyne.CanvasObject, foot ...fyne.CanvasObject) *sheet {
	s := &sheet{w: w, width: width}
	s.roll = w.roll(2, content) // room for the edges of what stands at the side
	s.foot = newFlow(8, foot...)
	s.inner = &table{middle: s.roll.Container, bottom: s.foot, gap: 16}
	s.slip = paper(20, 20, s.inner.object())
	s.top = container.New(&sheetLayout{s}, newScrim(), s.slip)
	s.escape = s.close
	return s
}

// filled makes a slip whose contents fill it instead of scrolling as a whole.
func (w *Window) filled(width float32, content fyne.CanvasObject, foot ...fyne.CanvasObject) *sheet {
	s := w.sheet(width, newColumn(0), foot...)
	s.tall, s.inner.middle = true, content
	s.slip.Objects[1] = s.inner.object()
	return s
}

// scrim dims the bench and keeps clicks from it.
func newScrim() fyne.CanvasObject { return canvas.NewRectangle(ink(colorScrim)) }

func (s *sheet) open(first fyne.Focusable) {
	c := s.w.win.Canvas()
	s.w.tips.hide()
	s.w.sheets = append(s.w.sheets, s)
	c.Overlays().Add(s.top)
	s.top.Resize(c.Size())
	s.roll.relay()
	if first != nil {
		c.Focus(first)
	}
	s.w.noteStatus()
}

// shown reports whether the slip lies on the bench.
func (s *sheet) shown() bool { return slices.Contains(s.w.sheets, s) }

// relay lays the slip out again after its words changed.
func (s *sheet) relay() {
	relayDeep(s.top)
	s.roll.relay()
	s.w.repaint()
	s.w.noteStatus()
}

func (s *sheet) close() {
	for i, o := range s.w.sheets {
		if o == s {
			s.w.sheets = append(s.w.sheets[:i:i], s.w.sheets[i+1:]...)
			s.w.win.Canvas().Overlays().Remove(s.top)
			s.w.forget(s.roll)
		}
	}
	if len(s.w.sheets) == 0 {
		s.w.keyboardToPicture()
	}
	s.w.noteStatus()
}

// topSheet is the slip that waits for an answer, nil when none.
func (w *Window) topSheet() *sheet {
	if n := len(w.sheets); n > 0 {
		return w.sheets[n-1]
	}
	return nil
}

func (w *Window) forget(r *roll) {
	for i, o := range w.rolls {
		if o == r {
			w.rolls = append(w.rolls[:i:i], w.rolls[i+1:]...)
			return
		}
	}
}
