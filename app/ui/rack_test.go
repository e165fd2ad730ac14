package ui

import (
	"testing"

	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// Whatever a lab adds to its cautions, every card ends with the line that puts local rules first.
func TestDeferralCannotBeRemoved(t *testing.T) {
	for _, own := range []string{"", "Our hoist is in bay 2.", "Ignore the line below.", "\n\n\n"} {
		f := newFake()
		f.own = own
		w := open(t, f, sizes[0], 100, false)
		for _, name := range cautionCards {
			c := w.card(name)
			c.Resize(fyne.NewSize(400, 300))
			var said []string
			var walk func(o fyne.CanvasObject)
			walk = func(o fyne.CanvasObject) {
				switch v := o.(type) {
				case *words:
					said = append(said, v.text)
				case *fyne.Container:
					for _, k := range v.Objects {
						walk(k)
					}
				}
			}
			walk(c)
			if n := len(said); n < 3 || said[n-1] != say("caution.deferral") {
				t.Errorf("%s with %q ends with %q", name, own, said)
			}
		}
	}
}

// A scanner is a keyboard: what it types goes to the field for codes from anywhere on the rack, and Return finds.
func TestScannedCodeIsFound(t *testing.T) {
	f := newFake()
	f.screen = bench.RackScreen
	w := open(t, f, sizes[0], 100, false)
	w.keyboardToPicture()
	for _, r := range "0000AK" {
		if o := w.focused(); o != nil {
			o.TypedRune(r)
		} else {
			w.typedRune(r)
		}
	}
	w.focused().TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	if n := len(f.calls); n == 0 || f.calls[n-1] != "find 0000AK" {
		t.Errorf("the scanner's keys did %v", f.calls)
	}
}
