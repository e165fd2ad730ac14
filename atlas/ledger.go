package atlas

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
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
	_, err := l.readLedger(ctx)
	return err
}

func (l *Library) readLedger(ctx context.Context) (Custody, error) {
	c := newCustody()
	lines, head, err := l.db.Ledger(ctx, 0)
	if err != nil {
		return c, err
	}
	return c, c.readAll(lines, head)
}

// readAll adds lines as they were written, up to the head that is noted beside them.
func (c *Custody) readAll(lines []store.LedgerLine, head store.LedgerHead) error {
	if err := c.read(lines); err != nil {
		return err
	}
	if head.Line == c.Len() && c.Len() > 0 && head.Hash != c.hash {
		return fmt.Errorf("%w: line %d of the ledger: altered", ErrDamaged, c.Len())
	}
	if head.Line != c.Len() {
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
		if e.Deed == Undo {
			if err := c.undoable(e.Line); err != nil {
				return bad(err)
			}
		}
		c.entries, c.hash, c.made = append(c.entries, e), x.Hash, c.made+len(e.Made)
		if e.Deed == Undo {
			undo, c.undone[e.Line] = true, true
		}
	}
	if undo { // what stands now follows from the lines that were not taken back, all from the first
		from, c.state = 0, newState()
	}
	for _, e := range c.entries[from:] {
		if e.Deed == Undo || c.undone[e.Number] {
			continue
		}
		if err := c.apply(e); err != nil {
			return fmt.Errorf("%w: line %d of the ledger: %w", ErrDamaged, e.Number, err)
		}
	}
	return nil
}

// Seal is the end of the chain in eight letters and digits: it changes with every line and every change to one. Noted on paper, it
// shows later that no line up to then was exchanged, even with all hashes made anew.
func (c Custody) Seal() string {
	b, err := hex.DecodeString(c.hash)
	if err != nil || len(b) == 0 {
		return ""
	}
	return CodeOf(b, 8)
}

// Enter adds one line to the ledger and returns it with its number, time and the codes of new things. A place may be
// given by its code or its name. It fails with ErrDeed when the line cannot be: then nothing is written.
func (l *Library) Enter(ctx context.Context, e LedgerEntry) (LedgerEntry, error) {
	out, err := l.EnterAll(ctx, e)
	if err != nil {
		return e, err
	}
	return out[0], nil
}

// EnterAll is Enter for several lines: all are written, or none.
func (l *Library) EnterAll(ctx context.Context, lines ...LedgerEntry) ([]LedgerEntry, error) {
	for {
		got, err := l.enter(ctx, time.Now(), lines...)
		if !errors.Is(err, store.ErrLedgerMoved) || ctx.Err() != nil {
			return got, err // else another line came first: judge these anew behind it
		}
	}
}

func (l *Library) enter(ctx context.Context, clock time.Time, lines ...LedgerEntry) ([]LedgerEntry, error) {
	if err := l.writable(); err != nil {
		return nil, err
	}
	c, err := l.Custody(ctx)
	if err != nil {
		return nil, err
	}
	by, err := l.law()
	if err != nil {
		return nil, err
	}
	next := c.copy()
	var out []LedgerEntry
	var rows []store.LedgerLine
	for _, e := range lines {
		row, err := next.write(&e, by, clock)
		if err != nil {
			return nil, err
		}
		out, rows = append(out, e), append(rows, row)
	}
	if len(rows) == 0 {
		return nil, nil
	}
	if err := l.db.AddLedger(next.wentBack(by, c), rows...); err != nil {
		return nil, err
	}
	l.custody.Lock()
	defer l.custody.Unlock()
	if l.custody.Len() == c.Len() {
		l.custody.Custody = next
	}
	return out, nil
}

// wentBack tells of donors for whom that is new: the day on which the last piece went back, "" when something is here
// again.
func (c Custody) wentBack(by law, before Custody) map[string]string {
	out := map[string]string{}
	today := c.entries[len(c.entries)-1].day().Format(day)
	for _, in := range []map[string]float64{before.in, c.in} {
		for donor := range in {
			d, _ := by(donor)
			if gone := c.Returned(donor); gone && d.Agreement.Returned.IsZero() {
				out[donor] = today
			} else if !gone && !d.Agreement.Returned.IsZero() {
				out[donor] = ""
			}
		}
	}
	return out
}

// law gives every donor as lines are judged by it.
func (l *Library) law() (law, error) {
	donors, err := l.Donors()
	if err != nil {
		return nil, err
	}
	known := map[string]Donor{}
	for _, d := range donors {
		known[d.Code] = d
	}
	return func(code string) (Donor, bool) {
		d, ok := known[code]
		return d, ok
	}, nil
}

// write stamps, judges and adds a line, and returns it as it is to be written.
func (c *Custody) write(e *LedgerEntry, by law, clock time.Time) (store.LedgerLine, error) {
	if strings.TrimSpace(e.Who) == "" {
		return store.LedgerLine{}, noDeed("a line needs the name of who enters it")
	}
	if err := c.stamp(e, clock); err != nil {
		return store.LedgerLine{}, err
	}
	if err := c.add(*e, by); err != nil {
		return store.LedgerLine{}, err
	}
	text, err := json.Marshal(e)
	if err != nil {
		return store.LedgerLine{}, fmt.Errorf("atlas: %w", err)
	}
	c.hash = chain(c.hash, text)
	return store.LedgerLine{Line: e.Number, Text: text, Hash: c.hash}, nil
}

// stamp gives a line its number, its time, where the thing was, and the codes of its new things.
func (c Custody) stamp(e *LedgerEntry, clock time.Time) (err error) {
	e.Number = c.Len() + 1
	e.At, e.Day, e.ClockBack = clock.UTC().Truncate(time.Second), clock.Format(day), false
	but := 0 // the line that this one takes back: its time may have been the mistake
	if e.Deed == Undo {
		but = e.Line
	}
	if last, ok := c.last(but); ok && e.At.Before(last.At) {
		e.ClockBack = last.At.Sub(e.At) > time.Minute
		e.At = last.At
	}
	if e.ClockBack {
		if last, _ := c.last(but); last.day().After(e.day()) {
			e.Day = last.day().Format(day)
		}
	}
	e.Due, e.From = civil(e.Due), ""
	if p, ok := c.pieces[e.Piece]; ok {
		if e.From = p.Place; p.Loan != "" {
			e.From = p.Loan
		}
		if e.To == "" && (e.Deed == Split || e.Deed == Trim) {
			e.To = p.Place
		}
	} else if h, ok := c.holders[e.Piece]; ok {
		e.From = h.On
	}
	if e.Deed != Lend {
		e.To = c.placeNamed(e.To)
	}
	return c.stampMade(e)
}

// placeNamed is the code of the container or shelf that someone means by its code or name; else the words themselves.
func (c Custody) placeNamed(text string) string {
	text = strings.TrimSpace(text)
	if _, ok := c.holders[strings.ToUpper(text)]; ok {
		return strings.ToUpper(text)
	}
	for _, h := range c.Holders() {
		if strings.EqualFold(h.Name, text) {
			return h.Code
		}
	}
	return text
}

func (c Custody) stampMade(e *LedgerEntry) (err error) {
	made := make([]Made, len(e.Made))
	for i, m := range e.Made {
		if m.Code, err = ItemCode(c.made + 1 + i); err != nil {
			return err
		}
		if m.Name = strings.TrimSpace(m.Name); m.Name == "" {
			return noDeed("a new thing needs a name in words")
		}
		if !m.isPiece() && m.Kind != BoxKind && m.Kind != ShelfKind {
			return noDeed("%q is not a kind of piece", m.Kind)
		}
		if p := c.pieces[e.Piece]; p != nil && m.Run == "" && (e.Deed == Split || e.Deed == Trim) {
			m.Run, m.Slab = p.Run, p.Slab
		}
		made[i] = m
	}
	e.Made = made
	return nil
}
