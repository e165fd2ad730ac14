package bench

import (
	"strconv"

	"sectionary/slices/scan"
)

// Window is the scan's window.
func (b *Bench) Window() scan.Window { return b.pair.window }

// SetWindow sets it. A width that cannot be is brought to the nearest that can; whether low values are white is the
// scan's own.
func (b *Bench) SetWindow(w scan.Window) {
	if b.pair.volume != nil {
		w.Inverse = b.pair.volume.Inverse
	}
	if w.Function == scan.Linear && len(w.Table) == 0 && !(w.Width >= 1) {
		w.Width = 1
	}
	if w.Check() != nil {
		return
	}
	b.pair.window = w
	b.changed(ScanChanged)
}

// Narrower shows a narrower span of values.
func (b *Bench) Narrower() { b.stretch(1 / 1.2) }

// Wider shows a wider span of values.
func (b *Bench) Wider() { b.stretch(1.2) }

func (b *Bench) stretch(by float64) {
	w := b.pair.window
	w.Width *= by
	b.SetWindow(w)
}

// tissueWindows are the windows shown, in order: whole tissues, soft tissue first, then those of embalmed bodies. Windows made
// for a diagnosis, and those that differ from a neighbour by next to nothing, are left out.
var tissueWindows = func() (out []scan.Preset) {
	for _, name := range []string{"soft tissue / abdomen", "bone", "lung", "liver", "brain", "embalmed soft tissue", "embalmed muscle and fat",
		"embalmed lung", "embalmed brain"} {
		for _, p := range scan.Presets() {
			if p.Name == name {
				out = append(out, p)
			}
		}
	}
	return out
}()

// Presets lists the windows by tissue with keys 1 to 9. A scan other than CT has no values by tissue: there the only
// one is the window it came with.
func (b *Bench) Presets() []PresetRow {
	var out []PresetRow
	now := b.Window()
	add := func(name string, w scan.Window) {
		if len(out) < 9 {
			out = append(out, PresetRow{strconv.Itoa(len(out) + 1), name, w, w.Centre == now.Centre && w.Width == now.Width})
		}
	}
	if s, ok := b.series(); ok && s.Modality == "CT" {
		for _, p := range tissueWindows {
			w := p.Window
			w.Inverse = b.pair.volume != nil && b.pair.volume.Inverse
			add(p.Name, w)
		}
	} else if b.pair.volume != nil {
		add(Word("window.start"), b.pair.volume.StartWindow())
	}
	return out
}

// UsePreset takes window n, from 1.
func (b *Bench) UsePreset(n int) bool {
	all := b.Presets()
	if n < 1 || n > len(all) || b.pair.volume == nil {
		return false
	}
	b.SetWindow(all[n-1].Window)
	return true
}
