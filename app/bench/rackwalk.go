package bench

import (
	"image"

	"sectionary/atlas"
	"sectionary/slices/geom"
)

// Down begins a click or a roll.
func (p *rackPane) Down(at geom.Px, b Button, m Mods) {
	p.press = press{down: true, from: at, last: at}
}

// Drag rolls the page.
func (p *rackPane) Drag(at geom.Px) {
	if !p.press.down || (!p.press.moved && at.Dist(p.press.from) < p.scale*tremor) {
		return
	}
	p.top -= int(at.Y - p.press.last.Y)
	p.press.moved, p.press.last = true, at
	p.b.changed(RackChanged)
}

// Up chooses what was clicked.
func (p *rackPane) Up(at geom.Px) {
	clicked := p.press.down && !p.press.moved
	if p.press = (press{}); !clicked {
		return
	}
	for _, s := range p.spots {
		if (image.Point{int(at.X), int(at.Y) + p.top}).In(s.at) {
			p.b.pickSpot(s)
			return
		}
	}
	if p.b.rack.form == nil {
		p.b.ChooseItem("")
	}
}

// pickSpot is a click on a thing: a container opens, and closes when clicked again.
func (b *Bench) pickSpot(s spot) {
	if f := b.rack.form; f != nil {
		if s.place != "" && f.setPlace(b.placeName(s.place)) {
			b.changed(RackChanged)
		}
		return
	}
	again := s.code != "" && s.code == b.rack.chosen
	if s.code != "" {
		b.ChooseItem(s.code)
	}
	if s.box {
		if again || s.code == "" {
			b.OpenBox(s.place)
		} else {
			b.rack.open = s.place
			b.changed(RackChanged)
		}
	}
}

// Hover and Leave have nothing to show.
func (p *rackPane) Hover(at geom.Px) {}

// Leave has nothing to take away.
func (p *rackPane) Leave() {}

// Wheel rolls the page.
func (p *rackPane) Wheel(at geom.Px, notches float64, m Mods) {
	p.top = min(max(0, p.top-int(notches*60*p.scale)), max(0, p.height-p.h))
	p.b.changed(RackChanged)
}

// Cursor is the shape of the pointer.
func (p *rackPane) Cursor() Cursor { return Default }

// Pointer is none.
func (p *rackPane) Pointer() (at geom.Px, radius float64, ok bool) { return }

// rackKey walks along the rack with the arrows and opens with Return; on the page of the ledger it walks along the lines.
func (b *Bench) rackKey(name string, m Mods) bool {
	if m.Ctrl || m.Alt {
		return false
	}
	steps := map[string]int{"Up": -1, "Down": 1, "Page Up": -10, "Page Down": 10}
	if b.screen == LedgerScreen {
		if n, ok := steps[name]; ok {
			b.StepLine(n)
			return true
		}
		return false
	}
	if b.screen != RackScreen || b.rack.form != nil {
		return false
	}
	switch name {
	case "Left":
		return b.walkRack(-1, false)
	case "Right":
		return b.walkRack(1, false)
	case "Up", "Page Up":
		return b.walkRack(-1, true)
	case "Down", "Page Down":
		return b.walkRack(1, true)
	case "Return":
		if h, ok := b.rack.custody.Holder(b.rack.chosen); ok && h.Kind == atlas.BoxKind {
			b.OpenBox(h.Code)
			return true
		}
	}
	return false
}

// walkRack chooses the next thing: in reading order, or the nearest in the row above or below.
func (b *Bench) walkRack(by int, rows bool) bool {
	var all []spot
	at := -1
	for _, s := range b.shelves.spots {
		if s.code == "" {
			continue
		}
		if s.code == b.rack.chosen {
			at = len(all)
		}
		all = append(all, s)
	}
	if len(all) == 0 {
		return true
	}
	next := at + by
	if at < 0 {
		next = 0
	} else if rows {
		next = nearestRow(all, at, by)
	}
	if next >= 0 && next < len(all) {
		b.ChooseItem(all[next].code)
	}
	return true
}

// nearestRow is the spot of the next row whose middle is nearest in x; at itself when there is none.
func nearestRow(all []spot, at, by int) int {
	mid := func(s spot) int { return (s.at.Min.X + s.at.Max.X) / 2 }
	best, row := at, 0
	for i := at + by; i >= 0 && i < len(all); i += by {
		y := all[i].at.Max.Y
		if y == all[at].at.Max.Y {
			continue
		}
		if best == at {
			row = y
		}
		if y != row {
			break
		}
		if best == at || apart(mid(all[i]), mid(all[at])) < apart(mid(all[best]), mid(all[at])) {
			best = i
		}
	}
	return best
}

func apart(a, b int) int { return max(a-b, b-a) }
