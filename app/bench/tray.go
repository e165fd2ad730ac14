package bench

import (
	"context"
	"fmt"
	"slices"
	"time"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

func (b *Bench) trayPhoto(e atlas.Entry, at int) TrayPhoto {
	for _, old := range b.lab.tray {
		if old.ID == e.Plate {
			return old
		}
	}
	if old, there := b.lab.seen[e.Plate]; there {
		return old
	}
	return TrayPhoto{ID: e.Plate, key: e.Plate, at: at}
}

// mostSeen bounds the prints remembered after they left the table.
const mostSeen = 600

// remember keeps a print, so that one that is laid and taken off again lies there at once.
func (l *labRoom) remember(t TrayPhoto) {
	if l.seen == nil || len(l.seen) > mostSeen {
		l.seen = map[string]TrayPhoto{}
	}
	l.seen[t.ID] = t
}

// setTray shows the tray and reads what is not known of it as a job.
func (b *Bench) setTray(tray []TrayPhoto) {
	b.lab.tray = tray
	b.sortTray()
	var unread []string
	for _, t := range tray {
		if t.Preview == nil && !b.lab.reading[t.ID] {
			unread = append(unread, t.ID)
		}
	}
	if len(unread) == 0 {
		return
	}
	if b.lab.reading == nil {
		b.lab.reading = map[string]bool{}
	}
	for _, id := range unread {
		b.lab.reading[id] = true
	}
	b.readPrints(unread, 0, len(unread))
}

// printsAtOnce is how many prints are read before they are shown.
const printsAtOnce = 12

// readPrints reads previews of the tray as a job, some at a time, so that the first lie there while others are read.
func (b *Bench) readPrints(unread []string, done, total int) {
	lib := b.lab.lib
	now, rest := unread[:min(len(unread), printsAtOnce)], unread[min(len(unread), printsAtOnce):]
	b.start(Word("job.tray"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		got := map[string]TrayPhoto{}
		for i, id := range now {
			if ctx.Err() != nil {
				break
			}
			if t, err := readPrint(ctx, lib, id); err == nil {
				got[id] = t
			}
			tell(done+i+1, total)
		}
		stopped := ctx.Err() != nil
		return func() {
			for _, id := range now {
				delete(b.lab.reading, id)
			}
			for i, t := range b.lab.tray {
				if x, ok := got[t.ID]; ok {
					x.key, x.at = t.key, t.at
					b.remark(&x)
					b.lab.tray[i] = x
					b.lab.remember(x)
				}
			}
			b.sortTray()
			b.changed(LabChanged)
			if len(rest) > 0 && !stopped {
				b.readPrints(rest, done+len(now), total)
			}
		}, nil
	})
}

func readPrint(ctx context.Context, lib library, id string) (TrayPhoto, error) {
	p, err := lib.Plate(id)
	if err != nil {
		return TrayPhoto{}, err
	}
	t := TrayPhoto{ID: id, Taken: p.Photo.Taken, size: p.Photo.Size, Sharp: true, Mirrored: asksMirrored(p)}
	if m, err := lib.Preview(ctx, id); err == nil {
		t.Preview = photo.NewImage(m).Preview(printSide)
	}
	return t, nil
}

// printOrder is the order prints lie in: by the time taken, those without one last, equal ones in the order of their batch.
func printOrder(x, y TrayPhoto) int {
	if c := timeOrder(x.Taken, y.Taken); c != 0 {
		return c
	}
	return x.at - y.at
}

// sortTray puts the tray in order and words it. Equal times are told: there the order is a guess.
func (b *Bench) sortTray() {
	b.lab.tray = slices.Clone(b.lab.tray)
	slices.SortStableFunc(b.lab.tray, printOrder)
	slices.SortStableFunc(b.take.coming, printOrder)
	wordPrints(b.lab.tray)
}

// wordPrints numbers and words prints that lie in order.
func wordPrints(list []TrayPhoto) {
	for i := range list {
		t := &list[i]
		t.Words, t.Same = Word("tray.notime", i+1), 0
		if t.Taken.IsZero() {
			continue
		}
		t.Words = Word("tray.time", i+1, takenWords(t.Taken))
		if i > 0 && list[i-1].Taken.Equal(t.Taken) {
			t.Same = i
		}
	}
}

// takenWords is a time taken, with the part of a second where the camera wrote it.
func takenWords(t time.Time) string { return t.Format("2006-01-02 15:04:05.999") }

// Tray lists photographs not yet laid on a face, in the order they were taken.
func (b *Bench) Tray() []TrayPhoto { return slices.Clone(b.lab.tray) }

// Prints lists what lies on the receiving table in the order taken: the tray, and photographs being taken in, whose ID
// is "" until they are in the lab.
func (b *Bench) Prints() []TrayPhoto {
	if len(b.take.coming) == 0 || b.take.run != b.Run().ID {
		return b.Tray()
	}
	out := append(b.Tray(), b.take.coming...)
	slices.SortStableFunc(out, printOrder)
	wordPrints(out)
	return out
}

// Place lays a photograph of the tray on a face.
func (b *Bench) Place(id string, f section.Face) error {
	if x, taken := b.rule.facts[f]; taken && x.plate != id {
		return fmt.Errorf("%w: %s", atlas.ErrFaceTaken, b.FaceName(f))
	}
	if _, _, err := b.Run().Depth(f); err != nil {
		return err
	}
	return b.lay(Word("step.place", b.FaceName(f)), map[string]section.Face{id: f})
}

// Unplace takes the photograph off the chosen face and back into the tray.
func (b *Bench) Unplace() error {
	x, there := b.rule.facts[b.rule.face]
	if !there {
		return ErrNoPhoto
	}
	return b.lay(Word("step.unplace", b.FaceName(b.rule.face)), map[string]section.Face{x.plate: {}})
}
