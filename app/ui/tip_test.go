package ui

import (
	"testing"
	"time"

	"sectionary/app/bench"
)

func TestTipShowsAfterARest(t *testing.T) {
	f := newFake()
	f.screen = bench.FaceScreen
	w := open(t, f, sizes[0], 100, false)
	var due func()
	stopped := false
	w.tips.clock = func(_ time.Duration, f func()) func() { due = f; return func() { stopped = true } }
	b := w.shown.(*faceScreen).rail[bench.ToolScale]
	b.MouseIn(nil)
	if w.tips.slip.Visible() {
		t.Error("a tip shows at once")
	}
	due()
	if !w.tips.slip.Visible() || w.tips.slip.Size().Height < 10 {
		t.Fatalf("no tip: %v", w.tips.slip.Size())
	}
	found := false
	for _, p := range texts(w.win.Canvas().Content()) {
		found = found || p.text == b.tip
	}
	if !found {
		t.Errorf("%q is not among the words of the window", b.tip)
	}
	b.MouseOut()
	if w.tips.slip.Visible() || !stopped {
		t.Error("the tip stays when the pointer leaves")
	}
}
