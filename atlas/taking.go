package atlas

import "context"

// claim is one plate's hold on a photograph's bytes while they are taken in; done is closed when it lets go.
type claim struct {
	plate string
	done  chan struct{}
}

// claim makes plate the only one at the photograph of that hash until let. Where another is at it already, it waits for that one to end,
// for only then can be said whether the bytes are in the library: a plate that is at them may yet find them known, or damaged, and never
// come to be. It fails with the context's error.
func (l *Library) claim(ctx context.Context, sha256, plate string) error {
	for {
		l.taking.Lock()
		other, there := l.taking.by[sha256]
		if !there {
			if l.taking.by == nil {
				l.taking.by = map[string]claim{}
			}
			l.taking.by[sha256] = claim{plate, make(chan struct{})}
			l.taking.Unlock()
			return nil
		}
		l.taking.Unlock()
		select {
		case <-other.done:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// let ends what claim began for a plate.
func (l *Library) let(plate string) {
	l.taking.Lock()
	defer l.taking.Unlock()
	for sum, c := range l.taking.by {
		if c.plate == plate {
			delete(l.taking.by, sum)
			close(c.done)
		}
	}
}
