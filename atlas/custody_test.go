package atlas

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"sectionary/slices/section"
)

// refuse checks that a line is refused, that the sentence says why, and that nothing was written.
func refuse(t *testing.T, l *Library, e LedgerEntry, words string) {
	t.Helper()
	if e.Who == "" {
		e.Who = "AB"
	}
	if e.Why == "" && needsWhy(e) {
		e.Why = "x"
	}
	before := custody(t, l).Len()
	_, err := l.Enter(context.Background(), e)
	wantErr(t, err, ErrDeed)
	if err != nil && !strings.Contains(err.Error(), words) {
		t.Errorf("%v: %q is not in it", err, words)
	}
	if custody(t, l).Len() != before {
		t.Error("a refused line was written")
	}
}

// stocked is a lab with a shelf, a container for its donor and both slabs of a run in it.
func stocked(t testing.TB) (l *Library, r section.Run, box string, slabs []string) {
	t.Helper()
	l, r = lab(t)
	r.Slabs = r.Slabs[:2]
	r, err := l.SaveRun(r)
	if err != nil {
		t.Fatal(err)
	}
	enter(t, l, LedgerEntry{Deed: Provide, To: "cold room", Made: []Made{{Kind: ShelfKind, Name: "shelf A"}}})
	box = enter(t, l, LedgerEntry{Deed: Provide, To: "Shelf a", Donor: code, Made: []Made{{Kind: BoxKind, Name: "box 3"}}}).Made[0].Code
	for i, s := range r.Slabs {
		e := enter(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "box 3", Made: []Made{{Kind: SlabPiece, Name: fmt.Sprint("slab ", s.Number), Mass: 1000 + float64(i), Run: r.ID, Slab: s.Number}}})
		slabs = append(slabs, e.Made[0].Code)
	}
	return l, r, box, slabs
}

// Row CU2: children have the parent's level and consent, and a parent does not go back without them.
func TestCU2Lineage(t *testing.T) {
	l, r, box, slabs := stocked(t)
	cut := enter(t, l, LedgerEntry{Deed: Trim, Piece: slabs[1], Lost: 2, Why: "ran off", Made: []Made{{Kind: Sample, Name: "kidney", Mass: 150}}})
	kidney := cut.Made[0].Code
	if cut.From != box || cut.To != box {
		t.Errorf("a piece taken off lies where its parent lies unless said: %+v", cut)
	}
	split := enter(t, l, LedgerEntry{Deed: Split, Piece: kidney, Lost: 1, Why: "dust", Made: []Made{{Kind: Part, Name: "upper half", Mass: 80}, {Kind: Part, Name: "lower half", Mass: 69}}})
	c := custody(t, l)
	for _, m := range append(split.Made, cut.Made...) {
		p, ok := c.Piece(m.Code)
		if !ok || p.Run != r.ID || p.Slab != 2 || p.Donor != code {
			t.Errorf("%s has not its parent's level and donor: %+v", m.Name, p)
		}
		// Consent is the donor's, whatever became of the piece.
		if err := l.Permits(p.Donor, Teaching, time.Now()); err != nil {
			t.Error(err)
		}
		wantErr(t, l.Permits(p.Donor, Commercial, time.Now()), ErrNotPermitted)
	}
	if got := c.What(split.Made[0].Code); got != "upper half, part of donor "+code+", taken from kidney ("+kidney+")" {
		t.Error(got)
	}
	refuse(t, l, LedgerEntry{Deed: Move, Piece: kidney, To: "x"}, "was split up")
	refuse(t, l, LedgerEntry{Deed: Return, Piece: slabs[1]}, "cannot be returned without")
	enter(t, l, LedgerEntry{Deed: Return, Piece: split.Made[0].Code})
	refuse(t, l, LedgerEntry{Deed: Return, Piece: slabs[1]}, split.Made[1].Code)
	refuse(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "box 3", Made: []Made{{Kind: SlabPiece, Name: "again", Mass: 1, Run: r.ID, Slab: 1}}}, "came in already, as "+slabs[0])
	refuse(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "box 3", Made: []Made{{Kind: SlabPiece, Name: "ninth", Mass: 1, Run: r.ID, Slab: 9}}}, "no slab 9")
}

// Row CU2: slab, part and container each move with who, when, from, to and why; the history of an item is one page, with
// what happened to its container while it lay in it.
func TestCU2MovesAndHistory(t *testing.T) {
	l, _, box, slabs := stocked(t)
	if err := l.AddDonor(Donor{Code: "OTHER-2"}); err != nil {
		t.Fatal(err)
	}
	shelf := enter(t, l, LedgerEntry{Deed: Provide, To: "cold room", Made: []Made{{Kind: ShelfKind, Name: "shelf B"}}}).Made[0].Code
	moved := enter(t, l, LedgerEntry{Deed: Move, Piece: box, To: "shelf B", Why: "shelf A is cleaned"})
	if moved.To != shelf || moved.From == "" || moved.Who != "AB" || moved.At.IsZero() || moved.Day == "" || moved.Why == "" {
		t.Errorf("%+v", moved)
	}
	enter(t, l, LedgerEntry{Deed: Move, Piece: slabs[0], To: "table 2", Why: "class"})
	enter(t, l, LedgerEntry{Deed: Move, Piece: box, To: "shelf A", Why: "clean again"})
	c := custody(t, l)
	if h := c.History(slabs[0]); len(h) != 3 || h[1].Within != box || h[2].From != box || h[2].To != "table 2" {
		t.Errorf("%+v", h)
	}
	if h := c.History(slabs[1]); len(h) != 3 || h[2].Number != c.Len() {
		t.Errorf("%+v", h)
	}
	if h := c.History(box); len(h) != 3 || c.FromTo(h[1].LedgerEntry) != "shelf A to shelf B" {
		t.Errorf("%+v", h)
	}
	rack := c.Rack()
	if len(rack) != 3 || rack[0].Name != "shelf A" || len(rack[0].Boxes) != 1 || len(rack[0].Boxes[0].Pieces) != 1 || rack[2].Code != "" || rack[2].Boxes[0].Name != "table 2" {
		t.Errorf("%+v", rack)
	}
	if p, _ := c.Piece(slabs[1]); c.Whereabouts(p) != "box 3 on shelf A" {
		t.Error(c.Whereabouts(p))
	}
	for name, e := range map[string]struct {
		e     LedgerEntry
		words string
	}{
		"a container of another donor": {LedgerEntry{Deed: Receive, Donor: "OTHER-2", To: "box 3", Made: []Made{{Kind: Part, Name: "arm", Mass: 9}}}, "is kept for donor " + code},
		"a container in a container":   {LedgerEntry{Deed: Move, Piece: box, To: box}, "stands on a shelf"},
		"a shelf on a shelf":           {LedgerEntry{Deed: Move, Piece: shelf, To: "shelf A"}, "a shelf in a room"},
		"a container lent":             {LedgerEntry{Deed: Lend, Piece: box, To: "Room 2", Due: time.Now()}, "for the pieces in it"},
		"a name given twice":           {LedgerEntry{Deed: Provide, To: "shelf A", Made: []Made{{Kind: BoxKind, Name: "BOX 3"}}}, "named box 3 already"},
		"a full container thrown out":  {LedgerEntry{Deed: Discard, Piece: box}, "is not empty: slab 2"},
		"a full shelf thrown out":      {LedgerEntry{Deed: Discard, Piece: rack[0].Code}, "is not empty: box 3"},
	} {
		t.Run(name, func(t *testing.T) { refuse(t, l, e.e, e.words) })
	}
	refuse(t, l, LedgerEntry{Deed: Move, Piece: slabs[1], To: slabs[0]}, "no container or shelf in use has the code")
	// A container cannot be unmade while a line that stands laid something in it, wherever that is now.
	pot := enter(t, l, LedgerEntry{Deed: Provide, To: "shelf A", Made: []Made{{Kind: BoxKind, Name: "pot"}}})
	enter(t, l, LedgerEntry{Deed: Move, Piece: slabs[1], To: "pot"})
	enter(t, l, LedgerEntry{Deed: Lend, Piece: slabs[1], To: "Room 2", Due: time.Now()})
	refuse(t, l, LedgerEntry{Deed: Undo, Line: pot.Number}, "builds on it")
	enter(t, l, LedgerEntry{Deed: Discard, Piece: shelf, Why: "broken"})
	refuse(t, l, LedgerEntry{Deed: Move, Piece: box, To: shelf}, "out of use")
}

// A box is lent by lending what lies in it: all lines or none.
func TestCU2AllLinesOrNone(t *testing.T) {
	l, _, box, slabs := stocked(t)
	lend := func(code string, due time.Time) LedgerEntry {
		return LedgerEntry{Who: "AB", Deed: Lend, Piece: code, To: "Room 2", Due: due, Why: "class"}
	}
	soon, late := time.Now().AddDate(0, 0, 3), on(2040, 1, 1)
	before := custody(t, l).Len()
	_, err := l.EnterAll(context.Background(), lend(slabs[0], soon), lend(slabs[1], late))
	wantErr(t, err, ErrDeed)
	if custody(t, l).Len() != before {
		t.Error("half of it was written")
	}
	got, err := l.EnterAll(context.Background(), lend(slabs[0], soon), lend(slabs[1], soon.AddDate(0, 0, -1)))
	if err != nil || len(got) != 2 || got[1].Number != before+2 {
		t.Fatalf("%+v, %v", got, err)
	}
	c := custody(t, l)
	loans := c.Loans()
	if len(loans) != 1 || loans[0].Name != "Room 2" || len(loans[0].Pieces) != 2 || loans[0].Pieces[0].Code != slabs[1] || len(c.In(box)) != 0 {
		t.Errorf("%+v", loans)
	}
	back := enter(t, l, LedgerEntry{Deed: Back, Piece: slabs[1], To: "box 3"})
	if back.From != "Room 2" || back.To != box {
		t.Errorf("%+v", back)
	}
	if got, err := l.EnterAll(context.Background()); got != nil || err != nil {
		t.Errorf("no lines: %v, %v", got, err)
	}
}

// Row CU2: nothing is deleted; the live state is what the ledger alone gives, line for line as it grew.
func TestCU2RebuiltFromTheLedgerAlone(t *testing.T) {
	l, _, box, slabs := stocked(t)
	ctx := context.Background()
	compare := func(what string) {
		t.Helper()
		live := custody(t, l)
		lines, head, err := l.db.Ledger(ctx, 0)
		if err != nil {
			t.Fatal(err)
		}
		fresh := newCustody()
		if err := fresh.readAll(lines, head); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if a, b := everything(fresh), everything(live); a != b {
			t.Errorf("%s: rebuilt\n%s\nlive\n%s", what, a, b)
		}
	}
	for _, e := range []LedgerEntry{
		{Deed: Trim, Piece: slabs[0], Lost: 1, Made: []Made{{Kind: Trimmings, Name: "pot", Mass: 20}}},
		{Deed: Move, Piece: box, To: "on the trolley"},
		{Deed: Look, Piece: box, Condition: &Condition{Mould: Poor}},
		{Deed: Miss, Piece: slabs[1]},
		{Deed: Keep, Donor: code},
		{Deed: Undo, Line: 8},
		{Deed: Move, Piece: slabs[0], To: "x"},
		{Deed: Undo, Line: 5},
	} {
		_, err := l.Enter(ctx, LedgerEntry{Who: "AB", Deed: e.Deed, Piece: e.Piece, Donor: e.Donor, To: e.To, Made: e.Made, Lost: e.Lost, Line: e.Line, Condition: e.Condition, Why: "so"})
		if err != nil {
			t.Fatalf("%s: %v", e.Deed, err)
		}
		compare(string(e.Deed))
	}
	if p, _ := custody(t, l).Piece(slabs[1]); p.Missing {
		t.Error("the piece stays missing although that line was taken back")
	}
}

func everything(c Custody) string {
	return plain(map[string]any{"pieces": c.pieces, "holders": c.holders, "in": c.in, "lost": c.lost, "loss": c.loss, "holds": c.holds,
		"ready": c.ready, "entries": c.entries, "undone": c.undone, "made": c.made, "hash": c.hash})
}

// Row CU4: nothing is marked ready while a slab, part, sample, debris or trimmings is on loan, missing, unweighed or never
// came in; afterwards it goes back as a whole, and pictures follow the agreement.
func TestCU4Return(t *testing.T) {
	l, r, _, slabs := stocked(t)
	ready := LedgerEntry{Deed: Ready, Donor: code}
	donor := func() Donor {
		d, err := l.Donor(code)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	// In the words of message 14: slab 4 is on loan to Room 2; trimmings pot has no mass.
	lent := enter(t, l, LedgerEntry{Deed: Lend, Piece: slabs[0], To: "Room 2", Due: time.Now().AddDate(0, 0, 1)})
	pot := enter(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "box 3", Made: []Made{{Kind: Trimmings, Name: "trimmings pot"}}}).Made[0].Code
	refuse(t, l, ready, "cannot mark ready to return: slab 1 is on loan to Room 2; trimmings pot has no mass")
	enter(t, l, LedgerEntry{Deed: Undo, Line: lent.Number})
	enter(t, l, LedgerEntry{Deed: Weigh, Piece: pot, Mass: 55, Why: "weighed for the first time"})
	for _, kind := range PieceKinds {
		e := enter(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "pot 9", Made: []Made{{Kind: kind, Name: "thing", Mass: 5}}})
		thing := e.Made[0].Code
		enter(t, l, LedgerEntry{Deed: Lend, Piece: thing, To: "Room 3", Due: time.Now()})
		refuse(t, l, ready, "thing is on loan to Room 3")
		enter(t, l, LedgerEntry{Deed: Back, Piece: thing, To: "pot 9"})
		miss := enter(t, l, LedgerEntry{Deed: Miss, Piece: thing, Why: "not in the pot"})
		refuse(t, l, ready, "thing is missing")
		refuse(t, l, LedgerEntry{Deed: Lend, Piece: thing, To: "y", Due: time.Now()}, "is missing; enter where it was found")
		enter(t, l, LedgerEntry{Deed: Undo, Line: miss.Number})
		enter(t, l, LedgerEntry{Deed: Undo, Line: e.Number + 2})
		enter(t, l, LedgerEntry{Deed: Undo, Line: e.Number + 1})
		enter(t, l, LedgerEntry{Deed: Undo, Line: e.Number})
	}
	more := r
	more.Slabs = append(more.Slabs, section.Slab{Number: 3, Thickness: [3]float64{20}})
	if _, err := l.SaveRun(more); err != nil {
		t.Fatal(err)
	}
	refuse(t, l, ready, "slab 3 of the "+r.Part+" transverse run never came in")
	if _, err := l.SaveRun(r); err != nil {
		t.Fatal(err)
	}
	hold := enter(t, l, LedgerEntry{Deed: Keep, Donor: code, Why: "inquiry"})
	refuse(t, l, ready, "on hold since ")
	enter(t, l, LedgerEntry{Deed: Lift, Donor: code, Line: hold.Number})
	refuse(t, l, LedgerEntry{Deed: Return, Donor: code}, "ready to return first")
	enter(t, l, ready)
	refuse(t, l, ready, "ready to return already")
	for _, d := range []LedgerEntry{{Deed: Lend, Piece: pot, To: "x", Due: time.Now()}, {Deed: Weigh, Piece: pot, Mass: 3, Why: "x"},
		{Deed: Receive, Donor: code, To: "x", Made: []Made{{Kind: Debris, Name: "dust", Mass: 3}}}} {
		refuse(t, l, d, "is marked ready to return; take line")
	}
	hold = enter(t, l, LedgerEntry{Deed: Keep, Donor: code, Why: "inquiry"})
	refuse(t, l, LedgerEntry{Deed: Return, Donor: code}, "on hold")
	enter(t, l, LedgerEntry{Deed: Lift, Donor: code, Line: hold.Number})
	rec := custody(t, l).Reconcile(code, donor().Runs)
	if !rec.Ready || rec.In != 2056 || rec.Out != 2056 || rec.Gap() != 0 {
		t.Errorf("%+v", rec)
	}
	back := enter(t, l, LedgerEntry{Deed: Return, Donor: code})
	c := custody(t, l)
	if !c.Returned(code) || len(c.Reconcile(code, donor().Runs).Containers) != 0 {
		t.Error("something stayed")
	}
	if h := c.History(pot); h[len(h)-1].Number != back.Number {
		t.Errorf("the return is no part of the history: %+v", h)
	}
	if err := l.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
		t.Fatal(err)
	}
	// Not recorded means no.
	var said *Refusal
	err := l.Permits(code, Teaching, time.Now())
	if !errors.As(err, &said) || !strings.Contains(said.Sentence, "went back on "+time.Now().Format(dayWords)+", and the agreement does not say") {
		t.Errorf("%v", err)
	}
	d := donor()
	d.Agreement.AfterReturn = KeepPictures
	if err := l.Agree("CD", d); err != nil {
		t.Fatal(err)
	}
	if err := l.Permits(code, Teaching, on(2040, 1, 1)); err != nil { // beyond the day by which everything goes back
		t.Error(err)
	}
	wantErr(t, l.Permits(code, Commercial, time.Now()), ErrNotPermitted)
	d.Agreement.AfterReturn = WithdrawPictures
	if err := l.SaveDonor(d); err != nil {
		t.Fatal(err)
	}
	err = l.Permits(code, Teaching, time.Now())
	if !errors.As(err, &said) || !strings.Contains(said.Sentence, "withdraws the pictures") {
		t.Errorf("%v", err)
	}
	d.Agreement.AfterReturn = "perhaps"
	if err := l.SaveDonor(d); err == nil {
		t.Error("an agreement that says perhaps was saved")
	}
	enter(t, l, LedgerEntry{Deed: Undo, Line: back.Number, Why: "the van did not come"})
	if err := l.Permits(code, Teaching, time.Now()); err != nil || !donor().Agreement.Returned.IsZero() {
		t.Errorf("taken back, but %v", err)
	}
}

// Row CU4: the last piece does not slip out one by one past the reckoning.
func TestCU4TheLastPiece(t *testing.T) {
	l, _, _, slabs := stocked(t)
	enter(t, l, LedgerEntry{Deed: Return, Piece: slabs[0]})
	refuse(t, l, LedgerEntry{Deed: Return, Piece: slabs[1]}, "this is the last of donor")
	enter(t, l, LedgerEntry{Deed: Ready, Donor: code})
	enter(t, l, LedgerEntry{Deed: Return, Piece: slabs[1]})
	if !custody(t, l).Returned(code) {
		t.Error("not returned")
	}
}

// Row CU4: the set difference of what the ledger has here and what was scanned.
func TestCU4Count(t *testing.T) {
	l, _, box, slabs := stocked(t)
	if err := l.AddDonor(Donor{Code: "OTHER-2"}); err != nil {
		t.Fatal(err)
	}
	other := enter(t, l, LedgerEntry{Deed: Receive, Donor: "OTHER-2", To: "x", Made: []Made{{Kind: Part, Name: "arm", Mass: 9}}}).Made[0].Code
	enter(t, l, LedgerEntry{Deed: Lend, Piece: slabs[0], To: "Room 2", Due: time.Now()})
	c := custody(t, l)
	got := c.Count(code, []string{box, slabs[0], slabs[0], other, "ZZZZZZ"})
	if len(got.Missing) != 1 || got.Missing[0].Code != slabs[1] {
		t.Errorf("missing %+v", got.Missing)
	}
	if len(got.Strange) != 3 || !strings.Contains(got.Strange[0].Words, "on loan to Room 2") || !strings.Contains(got.Strange[1].Words, "of donor OTHER-2") || !strings.Contains(got.Strange[2].Words, "not in the ledger") {
		t.Errorf("strange %+v", got.Strange)
	}
	if got := c.Count(code, []string{slabs[1]}); len(got.Missing)+len(got.Strange) != 0 {
		t.Errorf("%+v", got)
	}
	if _, err := c.Find(slabs[0][:1] + "Z" + slabs[0][2:]); err == nil || !strings.Contains(err.Error(), "one character may be wrong: "+slabs[0]) {
		t.Error(err)
	}
}

// A return that the ledger does not know of is found.
func TestVerifyComparesReturnAndLedger(t *testing.T) {
	l, _, _, slabs := stocked(t)
	seal := custody(t, l).Seal()
	by, err := l.law()
	if err != nil {
		t.Fatal(err)
	}
	next := custody(t, l).copy()
	e := LedgerEntry{Who: "AB", Deed: Move, Piece: slabs[0], To: "x", Why: "x"}
	row, err := next.write(&e, by, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if err := l.db.AddLedger(map[string]string{code: "2026-01-01"}, row); err != nil {
		t.Fatal(err)
	}
	var said []string
	if err := l.Verify(context.Background(), func(err error) { said = append(said, err.Error()) }); err != nil || len(said) != 1 || !strings.Contains(said[0], "differ on whether it went back") {
		t.Errorf("%q, %v", said, err)
	}
	if now := custody(t, l).Seal(); len(now) != 8 || now == seal {
		t.Errorf("seal %q after %q", now, seal)
	}
}

func TestSpans(t *testing.T) {
	for want, n := range map[string][]int{"3": {3}, "1, 2": {1, 2}, "1–4, 7": {1, 2, 3, 4, 7}, "2, 5–7, 9, 10": {2, 5, 6, 7, 9, 10}} {
		if got := spans(n); got != want {
			t.Errorf("%v: %q, want %q", n, got, want)
		}
	}
}
