package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
)

// progress is a track that fills from the left; while the size of the work is not known it stays a thin track.
type progress struct {
	*fyne.Container
	track, done *canvas.Rectangle
	share       float32
}

func newProgress() *progress {
	p := &progress{track: canvas.NewRectangle(ink(colorEdge)), done: canvas.NewRectangle(ink(theme.ColorNamePrimary))}
	p.Container = container.New(p, p.track, p.done)
	return p
}

func (p *progress) set(done, total int) {
	share := float32(0)
	if total > 0 {
		share = min(1, max(0, float32(done)/float32(total)))
	}
	if share != p.share {
		p.share = share
		p.Layout(nil, p.Size())
		p.done.Refresh()
	}
}

func (p *progress) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(60, 8) }

func (p *progress) Layout(_ []fyne.CanvasObject, size fyne.Size) {
	y := (size.Height - 6) / 2
	p.track.Move(fyne.NewPos(0, y))
	p.track.Resize(fyne.NewSize(size.Width, 6))
	p.done.Move(fyne.NewPos(0, y))
	p.done.Resize(fyne.NewSize(size.Width*p.share, 6))
}
