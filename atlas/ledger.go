package atlas

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"sectionary/atlas/store"
)

// chain is the hash of a line: over the hash of the line before, a line feed, and the line's own text.
func chain(before string, text []byte) string {
	sum := sha256.Sum256(append([]byte(before+"\n"), text...))
	return hex.EncodeToString(sum[:])
}

// Custody returns what the ledger says. It fails with ErrDamaged, naming the first bad line, when a line was
// altered, taken out or put in.
func (l *Library) Custody(ctx context.Context) (Custody, error) {
	l.custody.Lock()
	defer l.custody.Unlock()
	if l.custody.pieces == nil {
		l.custody.Custody = newCustody()
	}
	lines, head, err := l.db.Ledger(ctx, l.custody.Len())
	if err != nil {
		return Custody{}, err
	}
	if len(lines) == 0 && head.Line == l.custody.Len() {
		return l.custody.Custody, nil
	}
	next := l.custody.copy()
	if err := next.readAll(lines, head); err != nil {
		return Custody{}, err
	}
	l.custody.Custody = next
	return next, nil
}

// CheckLedger reads the whole ledger anew and fails with ErrDamaged naming the first bad line.
func (l *Library) CheckLedger(ctx context.Context) error {
	lines, head, err := l.db.Ledger(ctx, 0)
	if err != nil {
		return err
	}
	c := newCustody()
	return c.readAll(lines, head)
}

// readAll adds lines as they were written, up to the head that is noted beside them.
func (c *Custody) readAll(lines []store.LedgerLine, head store.LedgerHead) error {
	if err := c.read(lines); err != nil {
		return err
	}
	if head.Line != c.Len() || (head.Line > 0 && head.Hash != c.hash) {
		return fmt.Errorf("%w: line %d of the ledger: missing or put in, %d lines are noted", ErrDamaged, min(head.Line, c.Len())+1, head.Line)
	}
	return nil
}

// read adds lines as they were written, checking the chain.
func (c *Custody) read(lines []store.LedgerLine) error {
	from := c.Len()
	undo := false
	for _, x := range lines {
		bad := func(why any) error {
			return fmt.Errorf("%w: line %d of the ledger: %v", ErrDamaged, c.Len()+1, why)
		}
		var e LedgerEntry
		switch {
		case x.Line != c.Len()+1:
			return bad("missing")
		case chain(c.hash, x.Text) != x.Hash:
			return bad("altered, or the line before it")
		case json.Unmarshal(x.Text, &e) != nil || e.Number != x.Line:
			return bad("cannot be read")
		}
		c.entries, c.hash, c.made = append(c.entries, e), x.Hash, c.made+len(e.Made)
		if e.Deed == Undo {
			undo, c.undone[e.Line] = true, true
		}
	}
	if undo { // what stands now follows from the lines that were not taken back, all from the first
		from = 0
		fresh := newCustody()
		c.pieces, c.in, c.lost = fresh.pieces, fresh.in, fresh.lost
	}
	for _, e := range c.entries[from:] {
		if e.Deed == Undo || c.undone[e.Number] {
			continue
		}
		if err := c.apply(e, nil); err != nil {
			return fmt.Errorf("%w: line %d of the ledger: %w", ErrDamaged, e.Number, err)
		}
	}
	return nil
}

// Enter adds one line to the ledger and returns it with its number, time and the codes of new pieces. It fails
// with ErrDeed when the line cannot be: then nothing is written.
func (l *Library) Enter(ctx context.Context, e LedgerEntry) (LedgerEntry, error) {
	for {
		got, err := l.enter(ctx, e, time.Now())
		if !errors.Is(err, store.ErrLedgerMoved) || ctx.Err() != nil {
			return got, err // else another line came first: judge this one anew behind it
		}
	}
}

func (l *Library) enter(ctx context.Context, e LedgerEntry, clock time.Time) (LedgerEntry, error) {
	if err := l.writable(); err != nil {
		return e, err
	}
	c, err := l.Custody(ctx)
	if err != nil {
		return e, err
	}
	if e.Who == "" {
		return e, fmt.Errorf("%w: a line needs the name of who enters it", ErrDeed)
	}
	donors, err := l.Donors()
	if err != nil {
		return e, err
	}
	ends, known := map[string]time.Time{}, map[string]bool{}
	for _, d := range donors {
		ends[d.Code], known[d.Code] = d.Agreement.Ends, true
	}
	if e.Deed == Receive && !known[e.Donor] {
		return e, naming("donor "+e.Donor, ErrNotFound)
	}
	if err := c.stamp(&e, clock); err != nil {
		return e, err
	}
	next, err := c.with(e, func(donor string) time.Time { return ends[donor] })
	if err != nil {
		return e, err
	}
	text, err := json.Marshal(e)
	if err != nil {
		return e, fmt.Errorf("atlas: %w", err)
	}
	next.hash = chain(c.hash, text)
	if err := l.db.AddLedger(store.LedgerLine{Line: e.Number, Text: text, Hash: next.hash}); err != nil {
		return e, err
	}
	l.custody.Lock()
	defer l.custody.Unlock()
	if l.custody.Len() == e.Number-1 {
		l.custody.Custody = next
	}
	return e, nil
}

// stamp gives a line its number, its time and the codes of its new pieces.
func (c Custody) stamp(e *LedgerEntry, clock time.Time) (err error) {
	e.Number = c.Len() + 1
	e.At = clock.UTC().Truncate(time.Second)
	if n := c.Len(); n > 0 && e.At.Before(c.entries[n-1].At) {
		e.ClockBack = c.entries[n-1].At.Sub(e.At) > time.Minute
		e.At = c.entries[n-1].At
	}
	made := make([]Made, len(e.Made))
	for i, m := range e.Made {
		if m.Code, err = ItemCode(c.made + 1 + i); err != nil {
			return err
		}
		if m.Name == "" {
			return fmt.Errorf("%w: a new piece needs a name in words", ErrDeed)
		}
		switch m.Kind {
		case SlabPiece, Part, Sample, Trimmings, Debris:
		default:
			return fmt.Errorf("%w: %q is not a kind of piece", ErrDeed, m.Kind)
		}
		made[i] = m
	}
	e.Made = made
	return nil
}
