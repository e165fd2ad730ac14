package ui

import (
	"testing"

	"fyne.io/fyne/v2/test"

	"sectionary/app/bench"
)

// What the window itself costs for each change while a point is dragged (15 labels), beside painting.
func BenchmarkPlateChanged(b *testing.B) {
	for _, c := range []struct {
		name   string
		change bench.Change
	}{{"plate", bench.PlateChanged | bench.SelectionChanged}, {"view", bench.ViewChanged}, {"pointer", bench.PointerChanged}} {
		b.Run(c.name, func(b *testing.B) {
			app := test.NewTempApp(b)
			f := newFake()
			f.screen, f.tool = bench.FaceScreen, bench.ToolOutline
			w := newWindow(app, f, settings{Text: 100, Width: 1600, Height: 1000}, NewRunner())
			w.win.Resize(sizes[1])
			b.ReportAllocs()
			for b.Loop() {
				w.changed(c.change)
			}
		})
	}
}
