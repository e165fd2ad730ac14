package bench

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// batchRoom is the offer to carry the scale of one face to the other pictures of its sitting, and what was carried last.
type batchRoom struct {
	from    string // plate whose scale is offered, "" none looked for
	looking bool
	found   []atlas.Plate // of the same sitting, without a scale, as they were read
	colour  bool          // carry the colour too
	last    *carriedBatch
}

// carriedBatch is one carrying over, so that it can be taken back as one step.
type carriedBatch struct {
	from   string
	at     int // step of the face it was carried from
	were   map[string]atlas.Plate
	given  map[string]photo.Calibration
	colour *photo.Correction // that was carried where there was none, nil when none was
}

// BatchRow is one picture that the scale of the chosen face is offered to.
type BatchRow struct{ Words string }

// BatchInfo is the offer to the rest of the sitting.
type BatchInfo struct {
	Offered   bool // the chosen face has a scale of its own and others were looked for
	Looking   bool
	Rows      []BatchRow
	Words     string // how many, or why none
	HasColour bool   // there is a colour correction to carry
	Colour    bool   // and it is to be carried
	Done      string // what was carried last from this face, "" nothing
}

// Batch tells what is offered to the rest of the sitting.
func (b *Bench) Batch() BatchInfo {
	r := &b.stand.batch
	p, ok := b.Plate()
	if !ok || p.Calibration.Status == photo.Nominal {
		return BatchInfo{}
	}
	i := BatchInfo{Offered: r.from == p.ID, Looking: r.looking, HasColour: p.Colour != nil, Colour: r.colour && p.Colour != nil}
	if r.last != nil && r.last.from == p.ID {
		i.Done = Word("batch.done", count("photographs", len(r.last.given)))
	}
	if !i.Offered {
		return i
	}
	for _, x := range r.found {
		i.Rows = append(i.Rows, BatchRow{b.batchName(x)})
	}
	switch {
	case r.looking:
		i.Words = Word("batch.looking")
	case len(r.found) == 0:
		i.Words = Word("batch.nobody")
	default:
		i.Words = Word("batch.offer", count("photographs", len(r.found)), 100*photo.CarriedShare(p.Calibration.Height.Camera))
	}
	return i
}

// batchName names a picture by its face, or by when it was taken while it lies in the tray.
func (b *Bench) batchName(p atlas.Plate) string {
	when := Word("batch.untimed")
	if t := p.Photo.Taken; !t.IsZero() {
		when = t.Format("15:04:05")
	}
	if p.Face == (section.Face{}) {
		return Word("batch.tray", when)
	}
	return Word("batch.face", upperFirst(b.FaceName(p.Face)), when)
}

// LookBatch looks for the other pictures of the sitting: of the same donor, size and day, without a scale. It is a job.
func (b *Bench) LookBatch() {
	from, ok := b.Plate()
	if !ok || from.Calibration.Status == photo.Nominal || b.readOnly() {
		return
	}
	r := &b.stand.batch
	r.from, r.looking, r.found = from.ID, true, nil
	lib, donor := b.lab.lib, from.Donor
	var open []atlas.Plate
	known := map[string]bool{}
	for id, d := range b.docs { // as they stand in this sitting
		known[id] = true
		open = append(open, d.plate())
	}
	b.start(Word("job.batch"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		all := open
		for e, err := range lib.Find(atlas.Query{Donor: donor}) {
			if err != nil || ctx.Err() != nil {
				return nil, err
			}
			if known[e.Plate] || e.Status != photo.Nominal {
				continue
			}
			if p, err := lib.Plate(e.Plate); err == nil {
				all = append(all, p)
			}
		}
		found := slices.DeleteFunc(all, func(p atlas.Plate) bool { return !sameSitting(from, p) })
		slices.SortFunc(found, func(x, y atlas.Plate) int {
			if c := x.Photo.Taken.Compare(y.Photo.Taken); c != 0 {
				return c
			}
			return strings.Compare(x.ID, y.ID)
		})
		return func() {
			if r := &b.stand.batch; r.from == from.ID {
				r.looking, r.found = false, found
			}
			b.changed(SelectionChanged)
		}, nil
	})
	b.changed(SelectionChanged)
}

// sameSitting reports whether p may have been taken like from: of the same donor and size, on the same day by the camera's clock, and it
// has no scale. Pictures without a time go with one without.
func sameSitting(from, p atlas.Plate) bool {
	day := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return t.Format(time.DateOnly)
	}
	return p.ID != from.ID && p.Donor == from.Donor && !p.Retired && p.Calibration.Status == photo.Nominal && p.Photo.Size == from.Photo.Size &&
		day(p.Photo.Taken) == day(from.Photo.Taken)
}

// SetBatchColour says whether the colour correction is carried too.
func (b *Bench) SetBatchColour(on bool) {
	b.stand.batch.colour = on
	b.changed(SelectionChanged)
}

// CarryScale gives the scale of the chosen face to the pictures that were found, with its lens and height, and its colour where wished: one
// step, that Undo on this face takes back. Each says where it comes from, and its spread is wider.
func (b *Bench) CarryScale() error {
	r := &b.stand.batch
	from, ok := b.Plate()
	if !ok || r.from != from.ID || len(r.found) == 0 {
		return fmt.Errorf("%w: %s", ErrForm, Word("batch.nobody"))
	}
	c := from.Calibration
	name, stand := upperFirst(b.FaceName(from.Face)), b.stand.name
	if d, carried := c.CarriedFrom(); carried { // the first face is named, not the chain
		name, stand = d.From, d.Stand
	}
	c = c.Doubted(photo.Doubt{Why: photo.CarriedOver, Share: photo.CarriedShare(c.Height.Camera), From: name, Stand: stand})
	batch := &carriedBatch{from: from.ID, at: b.doc.hist.at, were: map[string]atlas.Plate{}, given: map[string]photo.Calibration{}}
	if r.colour {
		batch.colour = from.Colour
	}
	give := func(p atlas.Plate) atlas.Plate {
		batch.were[p.ID], batch.given[p.ID] = p, c
		p.Calibration = c
		if p.Colour == nil {
			p.Colour = batch.colour
		}
		if p.Face.Run == b.Run().ID {
			if laid, err := b.relaid(p); err == nil {
				p = laid
			}
		}
		return p
	}
	if err := b.editMany(count("step.batch", len(r.found)), r.found, func(p atlas.Plate) (atlas.Plate, bool) {
		if !sameSitting(from, p) {
			return p, false // changed meanwhile
		}
		return give(p), true
	}); err != nil {
		return err
	}
	r.last, r.found = batch, nil
	b.hint(Word("batch.done", count("photographs", len(batch.given))), false)
	return nil
}

// TakeBackScale takes the last carrying over back, on every picture that still has the scale as it was carried.
func (b *Bench) TakeBackScale() {
	batch := b.stand.batch.last
	if batch == nil {
		return
	}
	var all []atlas.Plate
	for _, p := range batch.were {
		all = append(all, p)
	}
	left := 0
	err := b.editMany(Word("step.batch.back"), all, func(p atlas.Plate) (atlas.Plate, bool) {
		was, given := batch.were[p.ID], batch.given[p.ID]
		if !p.Calibration.Map().Equal(given.Map()) || len(p.Calibration.Doubts) != len(given.Doubts) {
			left++
			return p, false
		}
		p.Calibration = was.Calibration
		if c := batch.colour; was.Colour == nil && c != nil && p.Colour != nil && *p.Colour == *c { // another was set since
			p.Colour = nil
		}
		if p.Registration != nil && was.Registration == nil {
			p.Registration, p.Picks = nil, was.Picks
		}
		return p, true
	})
	if err != nil {
		b.Report(err)
		return
	}
	b.stand.batch.last = nil
	words := Word("batch.back", count("photographs", len(all)-left))
	if left > 0 {
		words += " " + count("batch.back.left", left)
	}
	b.hint(words, false)
	b.LookBatch()
}

// undoesBatch reports whether Undo would take a carrying over back: nothing else was done on its face since.
func (b *Bench) undoesBatch() bool {
	x := b.stand.batch.last
	return x != nil && b.doc != nil && b.doc.plate().ID == x.from && b.doc.hist.at == x.at && b.screen == FaceScreen
}

// editMany changes plates in one go: those open in this sitting as a step of each, the others on disk, all of them or none. change sees
// each as it stands now and says whether it is to be changed.
func (b *Bench) editMany(step string, plates []atlas.Plate, change func(atlas.Plate) (atlas.Plate, bool)) error {
	if err := b.writable(); err != nil {
		return err
	}
	var closed []atlas.Plate
	var open []func()
	for _, p := range plates {
		if d := b.docs[p.ID]; d != nil {
			if next, yes := change(d.plate()); yes {
				open = append(open, func() { b.stepOf(d, step, next) })
			}
			continue
		}
		now, err := b.lab.lib.Plate(p.ID)
		if err != nil {
			return err
		}
		if next, yes := change(now); yes {
			closed = append(closed, next)
		}
	}
	if len(closed) > 0 {
		kept, err := b.lab.lib.SaveAll(closed...)
		if err != nil {
			return err
		}
		for _, p := range kept {
			if b.rule.facts[p.Face].plate == p.ID {
				b.rule.facts[p.Face] = factOf(p)
			}
		}
	}
	for _, do := range open {
		do()
	}
	b.changed(PlateChanged | RunChanged | SelectionChanged | ScanChanged | SavedChanged | PreviewChanged)
	return nil
}

// stepOf makes one step of a face that need not be the chosen one.
func (b *Bench) stepOf(d *faceDoc, step string, next atlas.Plate) {
	d.hist.Do(step, "", d.full(noted(d.plate(), next, b.stamp())))
	if f := d.plate().Face; b.rule.facts[f].plate == next.ID {
		b.rule.facts[f] = factOf(d.hist.Now())
	}
	b.touch(d)
}
