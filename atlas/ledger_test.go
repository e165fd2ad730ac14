package atlas

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"sectionary/atlas/store"
)

func enter(t testing.TB, l *Library, e LedgerEntry) LedgerEntry {
	t.Helper()
	if e.Who == "" {
		e.Who = "AB"
	}
	if e.Why == "" && needsWhy(e) {
		e.Why = "class"
	}
	e, err := l.Enter(context.Background(), e)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func receive(t testing.TB, l *Library, name string, mass float64) string {
	t.Helper()
	return enter(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "rack 1", Made: []Made{{Kind: SlabPiece, Name: name, Mass: mass}}}).Made[0].Code
}

func custody(t testing.TB, l *Library) Custody {
	t.Helper()
	c, err := l.Custody(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestAPieceFromArrivalToReturn(t *testing.T) {
	l, r := lab(t)
	r.Slabs = r.Slabs[:1]
	if _, err := l.SaveRun(r); err != nil {
		t.Fatal(err)
	}
	slab := enter(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "box 3", Made: []Made{{Kind: SlabPiece, Name: "slab 1", Mass: 1600, Run: r.ID, Slab: 1}}}).Made[0].Code
	cut := enter(t, l, LedgerEntry{Deed: Trim, Piece: slab, To: "pot 1", Lost: 4, Why: "ran off", Made: []Made{{Kind: Trimmings, Name: "trimmings pot", Mass: 30}, {Kind: Sample, Name: "left kidney", Mass: 150}}})
	pot, kidney := cut.Made[0].Code, cut.Made[1].Code
	halves := enter(t, l, LedgerEntry{Deed: Split, Piece: kidney, To: "box 4", Lost: 2, Why: "dust", Made: []Made{{Kind: Part, Name: "upper half", Mass: 80}, {Kind: Part, Name: "lower half", Mass: 68}}})
	half := halves.Made[0].Code
	enter(t, l, LedgerEntry{Deed: Lend, Piece: half, To: "Room 2", Due: time.Date(2029, 1, 1, 0, 0, 0, 0, time.UTC)})
	c := custody(t, l)
	if p, _ := c.Piece(slab); p.Mass != 1416 || len(p.Children) != 2 || p.Place != "box 3" {
		t.Errorf("slab %+v", p)
	}
	if p, _ := c.Piece(half); p.Parent != kidney || p.Donor != code || p.Loan != "Room 2" || p.Place != "" {
		t.Errorf("half %+v", p)
	}
	if p, _ := c.Piece(kidney); !p.Split || p.Here() {
		t.Errorf("kidney %+v", p)
	}
	if h := c.History(kidney); len(h) != 2 || h[0].Number != cut.Number || h[1].Number != halves.Number {
		t.Errorf("history %+v", h)
	}
	donor, _ := l.Donor(code)
	rec := c.Reconcile(code, donor.Runs)
	if rec.Ready || len(rec.Blocks) != 1 || rec.Blocks[0] != (Block{half, "upper half is on loan to Room 2"}) {
		t.Errorf("blocks %q", rec.Blocks)
	}
	_, err := l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Return, Piece: slab})
	wantErr(t, err, ErrDeed)
	enter(t, l, LedgerEntry{Deed: Back, Piece: half, To: "box 4"})
	enter(t, l, LedgerEntry{Deed: Weigh, Piece: pot, Mass: 28, Why: "dried"})
	rec = custody(t, l).Reconcile(code, donor.Runs)
	if !rec.Ready || rec.In != 1600 || rec.Out != 1416+28+80+68 || rec.Lost != 8 || len(rec.Losses) != 3 {
		t.Errorf("%+v", rec)
	}
	if len(rec.Containers) != 3 || rec.Containers[0].Place != "box 3" || len(rec.Containers[1].Pieces) != 2 {
		t.Errorf("containers %+v", rec.Containers)
	}
	enter(t, l, LedgerEntry{Deed: Ready, Donor: code})
	for _, p := range []string{half, halves.Made[1].Code, pot, slab} {
		enter(t, l, LedgerEntry{Deed: Return, Piece: p})
	}
	if rec = custody(t, l).Reconcile(code, donor.Runs); !rec.Ready || len(rec.Containers) != 0 {
		t.Errorf("after the return: %+v", rec)
	}
	l.Close()
	l, err = Open(l.Dir(), ReadOnly)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if again := custody(t, l); again.Len() != 11 || asJSON(t, again.Entries()[3]) == "" {
		t.Errorf("%d lines after opening again", again.Len())
	}
	_, err = l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Look, Piece: slab})
	wantErr(t, err, ErrReadOnly)
}

func TestDeedsThatCannotBe(t *testing.T) {
	l, _ := lab(t)
	slab := receive(t, l, "slab 1", 1000)
	lent := receive(t, l, "slab 2", 900)
	bare := receive(t, l, "slab 3", 0)
	enter(t, l, LedgerEntry{Deed: Lend, Piece: lent, To: "Room 2", Due: time.Date(2030, 2, 28, 0, 0, 0, 0, time.UTC)})
	two := []Made{{Kind: Part, Name: "a", Mass: 500}, {Kind: Part, Name: "b", Mass: 400}}
	for name, e := range map[string]LedgerEntry{
		"no name":                      {Deed: Move, Piece: slab, To: "x", Who: "-"},
		"no reason":                    {Deed: Move, Piece: slab, To: "x"},
		"a look that saw nothing":      {Deed: Look, Piece: slab},
		"no such piece":                {Deed: Move, Piece: "ZZZZZZ", To: "x"},
		"no place":                     {Deed: Move, Piece: slab},
		"no such deed":                 {Deed: "burn", Piece: slab},
		"lent things move":             {Deed: Move, Piece: lent, To: "x"},
		"lent twice":                   {Deed: Lend, Piece: lent, To: "y", Due: time.Now()},
		"past the agreement":           {Deed: Lend, Piece: slab, To: "y", Due: time.Date(2030, 3, 1, 0, 0, 0, 0, time.UTC)},
		"ends before it begins":        {Deed: Lend, Piece: slab, To: "y", Due: time.Now().AddDate(0, 0, -2)},
		"a loan without a day":         {Deed: Lend, Piece: slab, To: "y"},
		"back without a loan":          {Deed: Back, Piece: slab, To: "x"},
		"more than it weighs":          {Deed: Trim, Piece: slab, To: "x", Made: []Made{{Kind: Sample, Name: "a", Mass: 1001}}},
		"less than it weighs":          {Deed: Split, Piece: slab, To: "x", Made: two, Lost: 90},
		"split into one":               {Deed: Split, Piece: slab, To: "x", Made: two[:1], Lost: 500},
		"an unweighed child":           {Deed: Trim, Piece: slab, To: "x", Made: []Made{{Kind: Sample, Name: "a"}}},
		"an unweighed parent":          {Deed: Trim, Piece: bare, To: "x", Made: []Made{{Kind: Sample, Name: "a", Mass: 3}}},
		"a kind that is none":          {Deed: Trim, Piece: slab, To: "x", Made: []Made{{Kind: "limb", Name: "a", Mass: 3}}},
		"a piece without a name":       {Deed: Trim, Piece: slab, To: "x", Made: []Made{{Kind: Sample, Mass: 3}}},
		"a mass that cannot be":        {Deed: Weigh, Piece: slab, Mass: math.NaN(), Why: "x"},
		"weighed without reason":       {Deed: Weigh, Piece: slab, Mass: 990},
		"receiving nothing":            {Deed: Receive, Donor: code, To: "x"},
		"undoing what is not there":    {Deed: Undo, Line: 99, Why: "x"},
		"undoing what others build on": {Deed: Undo, Line: 2, Why: "x"},
	} {
		if e.Who = "AB"; name == "no name" {
			e.Who = ""
		}
		if e.Why == "" && name != "weighed without reason" && name != "no reason" {
			e.Why = "class"
		}
		before := custody(t, l).Len()
		if _, err := l.Enter(context.Background(), e); err == nil {
			t.Errorf("%s was entered", name)
		} else {
			wantErr(t, err, ErrDeed)
		}
		if custody(t, l).Len() != before {
			t.Errorf("%s left a line", name)
		}
	}
	_, err := l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Receive, Donor: "NOBODY-1", To: "x", Made: two[:1]})
	wantErr(t, err, ErrNotFound)
}

func TestCU2MistakesAreTakenBackByANewLine(t *testing.T) {
	l, _ := lab(t)
	slab := receive(t, l, "slab 1", 1000)
	moved := enter(t, l, LedgerEntry{Deed: Move, Piece: slab, To: "box 9"})
	undo := enter(t, l, LedgerEntry{Deed: Undo, Line: moved.Number, Why: "wrong box"})
	c := custody(t, l)
	if p, _ := c.Piece(slab); p.Place != "rack 1" || !c.Undone(moved.Number) || c.Len() != 3 {
		t.Errorf("%+v, %d lines", p, c.Len())
	}
	if h := c.History(slab); len(h) != 3 {
		t.Errorf("the undoing is no part of its history: %+v", h)
	}
	for _, n := range []int{moved.Number, undo.Number} {
		_, err := l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Undo, Line: n, Why: "x"})
		wantErr(t, err, ErrDeed)
	}
	// A code is never given twice, not even that of an arrival taken back.
	first := enter(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "x", Made: []Made{{Kind: Debris, Name: "dust", Mass: 5}}})
	enter(t, l, LedgerEntry{Deed: Undo, Line: first.Number, Why: "another donor's"})
	second := enter(t, l, LedgerEntry{Deed: Receive, Donor: code, To: "x", Made: []Made{{Kind: Debris, Name: "dust", Mass: 5}}})
	if first.Made[0].Code == second.Made[0].Code {
		t.Error("a code was given twice")
	}
}

// Lines entered at one time all stand, one behind the other, with codes of their own.
func TestManyEnterAtOnce(t *testing.T) {
	l, _ := lab(t)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 15 {
				_, err := l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "x", Made: []Made{{Kind: Debris, Name: "dust", Mass: 1}}})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if c := custody(t, l); c.Len() != 60 || len(c.Pieces(code)) != 60 {
		t.Errorf("%d lines, %d pieces", c.Len(), len(c.Pieces(code)))
	}
	if err := l.CheckLedger(context.Background()); err != nil {
		t.Error(err)
	}
}

// enterAt enters a line when the clock says so.
func enterAt(l *Library, e LedgerEntry, clock time.Time) (LedgerEntry, error) {
	out, err := l.enter(context.Background(), clock, e)
	if err != nil {
		return e, err
	}
	return out[0], nil
}

func TestAClockSetBack(t *testing.T) {
	l, _ := lab(t)
	noon := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	made := []Made{{Kind: SlabPiece, Name: "slab 1", Mass: 10}}
	a, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "x", Made: made}, noon)
	if err != nil {
		t.Fatal(err)
	}
	b, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Look, Piece: a.Made[0].Code, Condition: &Condition{Wrap: Good}}, noon.Add(-3*time.Hour))
	if err != nil || !b.At.Equal(noon) || !b.ClockBack {
		t.Errorf("%+v, %v", b, err)
	}
	c, _ := enterAt(l, LedgerEntry{Who: "AB", Deed: Look, Piece: a.Made[0].Code, Condition: &Condition{Wrap: Good}}, noon.Add(time.Hour).In(time.FixedZone("", -9*3600)))
	if !c.At.Equal(noon.Add(time.Hour)) || c.ClockBack || c.At.Location() != time.UTC {
		t.Errorf("%+v", c)
	}
}

func TestDaysUntilTheEnd(t *testing.T) {
	a := Agreement{Ends: time.Date(2028, 3, 1, 0, 0, 0, 0, time.UTC)}
	for today, want := range map[time.Time]string{
		time.Date(2028, 2, 28, 23, 59, 0, 0, time.FixedZone("", 14*3600)): "due back in 2 days", // a leap year
		time.Date(2028, 3, 1, 0, 1, 0, 0, time.FixedZone("", -11*3600)):   "due back today",
		time.Date(2028, 3, 3, 0, 0, 0, 0, time.UTC):                       "overdue by 2 days",
		time.Date(2027, 9, 3, 12, 0, 0, 0, time.UTC):                      "due back in 180 days",
		time.Date(2027, 9, 2, 12, 0, 0, 0, time.UTC):                      "",
	} {
		if got := a.Reminder(today); got != want {
			t.Errorf("%v: %q, want %q", today, got, want)
		}
	}
	if (Agreement{}).Reminder(time.Now()) != "" {
		t.Error("no day recorded, but a reminder")
	}
}

// written is a ledger of many lines as it stands in the catalogue.
func written(t testing.TB, n int) ([]store.LedgerLine, store.LedgerHead) {
	t.Helper()
	c := newCustody()
	var lines []store.LedgerLine
	r := rand.New(rand.NewPCG(4, 2))
	for c.Len() < n {
		e := LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "rack 1", Made: []Made{{Kind: SlabPiece, Name: "slab", Mass: 1000}}}
		if all := c.Pieces(""); len(all) > 400 || (len(all) > 0 && c.Len()%2 == 1) {
			e = LedgerEntry{Who: "AB", Deed: Move, Piece: all[r.IntN(len(all))].Code, To: fmt.Sprint("box ", r.IntN(40))}
		}
		if err := c.stamp(&e, time.Date(2026, 1, 1, 0, 0, c.Len(), 0, time.UTC)); err != nil {
			t.Fatal(err)
		}
		hash := c.hash
		if err := c.add(e, nil); err != nil {
			t.Fatal(err)
		}
		text := []byte(asJSON(t, e))
		c.hash = chain(hash, text)
		lines = append(lines, store.LedgerLine{Line: e.Number, Text: text, Hash: c.hash})
	}
	return lines, store.LedgerHead{Line: n, Hash: c.hash}
}

// A hundred edits of a ledger, each found, the first bad line named.
func TestCU2EditsAreFound(t *testing.T) {
	good, head := written(t, 120)
	c := newCustody()
	if err := c.readAll(good, head); err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(8, 8))
	for i := range 100 {
		lines := make([]store.LedgerLine, len(good))
		for k, x := range good {
			lines[k] = store.LedgerLine{Line: x.Line, Text: bytes.Clone(x.Text), Hash: x.Hash}
		}
		at := r.IntN(len(lines) - 1)
		first := at + 1 // the number that must be named
		what := ""
		switch i % 8 {
		case 0:
			what = "a changed character"
			k := r.IntN(len(lines[at].Text))
			lines[at].Text[k] ^= 1
		case 1:
			what = "a changed hash"
			lines[at].Hash = strings.Repeat("0", 64)
		case 2:
			what = "a line taken out"
			lines = append(lines[:at], lines[at+1:]...)
		case 3:
			what = "a line taken out and the rest renumbered"
			lines = append(lines[:at], lines[at+1:]...)
			for k := at; k < len(lines); k++ {
				lines[k].Line--
			}
		case 4:
			what = "two lines exchanged"
			lines[at].Text, lines[at+1].Text = lines[at+1].Text, lines[at].Text
			lines[at].Hash, lines[at+1].Hash = lines[at+1].Hash, lines[at].Hash
		case 5:
			what = "the end cut off"
			lines = lines[:at+1]
			first = at + 2
		case 6:
			what = "a changed line with its hash made anew"
			before := ""
			if at > 0 {
				before = lines[at-1].Hash
			}
			lines[at].Text = bytes.Replace(lines[at].Text, []byte("AB"), []byte("CD"), 1)
			lines[at].Hash = chain(before, lines[at].Text)
			first = at + 2 // itself sound; the line behind it is not, and is said to be that or the line before it
		case 7:
			what = "the last line changed with its hash made anew"
			at = len(lines) - 1
			lines[at].Text = bytes.Replace(lines[at].Text, []byte("AB"), []byte("CD"), 1)
			lines[at].Hash = chain(lines[at-1].Hash, lines[at].Text)
			first = at + 1
		}
		c := newCustody()
		err := c.readAll(lines, head)
		wantErr(t, err, ErrDamaged)
		if err == nil || !strings.Contains(err.Error(), fmt.Sprintf("line %d of the ledger", first)) {
			t.Errorf("%s at line %d: %v", what, at+1, err)
		}
	}
}

// Row CU2: any sequence of 500 moves, splits, loans, corrections and the rest keeps the books: what is taken from a piece and
// what is lost adds up to what it loses, line by line; grams in are grams here, returned or lost; every piece is at one place,
// with one borrower, missing or gone; and reading the lines again gives the same.
func TestCU2AnySequenceKeepsTheBooks(t *testing.T) {
	far := func(donor string) (Donor, bool) {
		return Donor{Code: donor, Agreement: Agreement{Ends: time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)}}, true
	}
	most := 0
	rapid.Check(t, func(t *rapid.T) {
		c := newCustody()
		var lines []store.LedgerLine
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range rapid.SampledFrom([]int{500, 500, 30}).Draw(t, "steps") {
			e := randomDeed(r, c)
			next := c.copy()
			row, err := next.write(&e, far, time.Date(2026, 1, 1, 0, 0, c.Len(), 0, time.UTC))
			if err != nil {
				if !errors.Is(err, ErrDeed) {
					t.Fatal(err)
				}
				continue
			}
			c, lines = next, append(lines, row)
		}
		books(t, c)
		lineByLine(t, c)
		again := newCustody()
		if err := again.readAll(lines, store.LedgerHead{Line: c.Len(), Hash: c.hash}); err != nil {
			t.Fatal(err)
		}
		if a, b := everything(again), everything(c); a != b {
			t.Fatalf("read again:\n%s\nwant\n%s", a, b)
		}
		most = max(most, c.Len())
	})
	if most < 200 {
		t.Errorf("at most %d lines stood: the test proves little", most)
	}
}

// lineByLine enters the lines that stand once more and weighs after each.
func lineByLine(t *rapid.T, c Custody) {
	s := newState()
	mass := func() (sum float64) {
		for _, p := range s.pieces {
			sum += p.Mass
		}
		return sum
	}
	for _, e := range c.entries {
		if e.Deed == Undo || c.undone[e.Number] {
			continue
		}
		before, parent := mass(), Piece{}
		if p := s.pieces[e.Piece]; p != nil {
			parent = *p
		}
		if err := s.apply(e); err != nil {
			t.Fatal(err)
		}
		if e.Deed != Split && e.Deed != Trim {
			continue
		}
		children := 0.0
		for _, m := range e.Made {
			children += s.pieces[m.Code].Mass
			if k := s.pieces[m.Code]; k.Parent != parent.Code || k.Donor != parent.Donor {
				t.Fatalf("line %d: child %+v of %+v", e.Number, k, parent)
			}
		}
		lost := s.loss[e.Number]
		if now := s.pieces[e.Piece].Mass; math.Abs(parent.Mass-now-children-lost) > 1e-6 || math.Abs(before-mass()-lost) > 1e-6 {
			t.Fatalf("line %d: %g g became %g g, children %g g, lost %g g", e.Number, parent.Mass, now, children, lost)
		}
	}
}

func plain(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}

func randomDeed(r *rand.Rand, c Custody) LedgerEntry {
	donor := fmt.Sprint("D-", r.IntN(3))
	switch r.IntN(24) {
	case 0:
		return LedgerEntry{Who: "AB", Deed: Provide, Donor: []string{"", donor}[r.IntN(2)], To: fmt.Sprint("shelf ", r.IntN(3)), Made: []Made{{Kind: BoxKind, Name: fmt.Sprint("box ", r.IntN(6))}}}
	case 1:
		return LedgerEntry{Who: "AB", Deed: Provide, To: "room", Made: []Made{{Kind: ShelfKind, Name: fmt.Sprint("shelf ", r.IntN(3))}}}
	case 2:
		e := LedgerEntry{Who: "AB", Deed: []Deed{Keep, Lift, Ready, Return}[r.IntN(4)], Donor: donor, Why: "so"}
		if h := c.Holds(donor); e.Deed == Lift && len(h) > 0 {
			e.Line = h[0].Line
		}
		return e
	case 3:
		if all := c.Holders(); len(all) > 0 {
			return LedgerEntry{Who: "AB", Piece: all[r.IntN(len(all))].Code, Deed: []Deed{Move, Look, Discard}[r.IntN(3)], To: fmt.Sprint("shelf ", r.IntN(3)), Condition: &Condition{Wrap: Good}, Why: "so"}
		}
	}
	e := LedgerEntry{Who: "AB", Deed: Receive, Donor: donor, To: "rack", Made: []Made{{Kind: SlabPiece, Name: "s", Mass: float64(r.IntN(3) * 400)}}}
	all := c.Pieces("")
	if len(all) == 0 || r.IntN(5) == 0 {
		return e
	}
	p := all[r.IntN(len(all))]
	e = LedgerEntry{Who: "AB", Piece: p.Code, To: fmt.Sprint("box ", r.IntN(5)), Why: "so"}
	e.Deed = []Deed{Split, Trim, Move, Lend, Back, Look, Weigh, Return, Undo, Miss}[r.IntN(10)]
	switch e.Deed {
	case Split:
		a := math.Round(p.Mass * r.Float64())
		b := math.Round((p.Mass - a) * r.Float64())
		e.Made, e.Lost = []Made{{Kind: Part, Name: "a", Mass: a}, {Kind: Part, Name: "b", Mass: b}}, p.Mass-a-b+0.2*(r.Float64()-0.5)*math.Min(p.Mass, 1)
		e.Lost = math.Max(0, e.Lost)
	case Trim:
		e.Made, e.Lost = []Made{{Kind: Trimmings, Name: "t", Mass: math.Round(p.Mass * r.Float64() / 2)}}, math.Min(p.Mass, float64(r.IntN(3)))
	case Look:
		e.Condition = &Condition{Wetting: Good, Mould: Poor}
	case Lend:
		e.Due = time.Date(2027+r.IntN(5), 1, 1, 0, 0, 0, 0, time.UTC)
	case Weigh:
		e.Mass = float64(1 + r.IntN(900))
	case Undo:
		e = LedgerEntry{Who: "AB", Deed: Undo, Line: 1 + r.IntN(c.Len()), Why: "mistake"}
	}
	return e
}

func books(t *rapid.T, c Custody) {
	out := map[string]float64{}
	for _, p := range c.Pieces("") {
		out[p.Donor] += p.Mass
		places := 0
		for _, is := range []bool{p.Place != "", p.Loan != "", p.Missing, p.Split, p.Returned} {
			if is {
				places++
			}
		}
		if places != 1 {
			t.Fatalf("%s is at %d places: %+v", p.Code, places, p)
		}
		if h, ok := c.Holder(p.Place); soundCode(p.Place) && (!ok || h.Gone) {
			t.Fatalf("%s lies in %s, which is not in use", p.Code, p.Place)
		}
		for _, k := range p.Children {
			if child, ok := c.Piece(k); !ok || child.Parent != p.Code || child.Donor != p.Donor {
				t.Fatalf("child %s of %s: %+v", k, p.Code, child)
			}
		}
		if p.Returned {
			if k, ok := c.childHere(&p, true); ok {
				t.Fatalf("%s was returned without %s", p.Code, k)
			}
		}
	}
	for donor, in := range c.in {
		if gap := in - out[donor] - c.lost[donor]; math.Abs(gap) > 1e-6 {
			t.Fatalf("%s: %.3f g came in, %.3f are here or returned, %.3f lost", donor, in, out[donor], c.lost[donor])
		}
	}
}

// Lines that somebody else wrote, with all hashes in order, are read or refused; nothing that reads them fails.
func FuzzLedger(f *testing.F) {
	lines, _ := written(f, 12)
	var all [][]byte
	for _, x := range lines {
		all = append(all, x.Text)
	}
	f.Add(bytes.Join(all, []byte("\n")))
	f.Add([]byte(`{"line":1,"deed":"undo","undoes":1}`))
	f.Add([]byte(`{"line":1,"deed":"receive","donor":"D","to":"x","made":[{"code":"A","kind":"slab","mass":9}]}
{"line":2,"deed":"split","piece":"A","to":"y","made":[{"code":"A","kind":"part","mass":4},{"code":"C","kind":"part","mass":5}]}
{"line":3,"deed":"return","piece":"A"}`))
	f.Add([]byte(`{"line":1,"deed":"provide","to":"B","made":[{"code":"B","kind":"container","name":"b"}]}
{"line":2,"deed":"look","piece":"B","condition":{"wrap":"poor"}}
{"line":3,"deed":"undo","undoes":1}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		c := newCustody()
		var rows []store.LedgerLine
		hash := ""
		for i, line := range bytes.Split(text, []byte("\n")) {
			hash = chain(hash, line)
			rows = append(rows, store.LedgerLine{Line: i + 1, Text: line, Hash: hash})
		}
		if err := c.readAll(rows, store.LedgerHead{Line: len(rows), Hash: hash}); err != nil {
			if !errors.Is(err, ErrDamaged) {
				t.Errorf("%v is not said to be damage", err)
			}
			return
		}
		c.Rack()
		c.Loans()
		c.Due(time.Now(), []Donor{{Code: "D"}}, CustodyRules{LookDays: [3]int{1, 1, 1}})
		for _, p := range c.Pieces("") {
			c.Whereabouts(p)
			for _, e := range c.History(p.Code) {
				c.DeedWords(e)
				c.FromTo(e.LedgerEntry)
			}
			c.Reconcile(p.Donor, nil)
			c.Returned(p.Donor)
		}
		for _, h := range c.Holders() {
			c.What(h.Code)
		}
	})
}

// Whatever is typed or scanned is read as a sound code or refused with a sentence.
func FuzzReadItemCode(f *testing.F) {
	for _, s := range []string{"00002Y", " 0000-2y\r\n", "ÄÖ", "0000\xff", "\x00\x00\x00\x00\x00\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		code, err := ReadItemCode(typed, func(string) bool { return true })
		if (err == nil) != soundCode(code) {
			t.Errorf("%q: %q, %v", typed, code, err)
		}
	})
}

// Row CU2 and the acceptance of custody, budget 1 s for each: opening a lab whose ledger has 20,000 lines, and one piece's
// history on a page, from the disk; then what the rack shows, what is due, and one more line.
func BenchmarkLedger20000(b *testing.B) {
	l, _ := lab(b)
	lines, _ := written(b, 20000)
	if err := l.db.AddLedger(nil, lines...); err != nil {
		b.Fatal(err)
	}
	ctx := context.Background()
	dir := l.Dir()
	open := func() *Library {
		l, err := Open(dir, ReadOnly)
		if err != nil {
			b.Fatal(err)
		}
		return l
	}
	piece := custody(b, l).Pieces("")[7].Code
	l.Close()
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			l := open()
			custody(b, l)
			l.Close()
		}
	})
	b.Run("history-from-closed", func(b *testing.B) {
		for b.Loop() {
			l := open()
			if len(custody(b, l).History(piece)) == 0 {
				b.Fatal("empty")
			}
			l.Close()
		}
	})
	l, err := Open(dir, ReadWrite)
	if err != nil {
		b.Fatal(err)
	}
	defer l.Close()
	c := custody(b, l)
	donors, err := l.Donors()
	if err != nil {
		b.Fatal(err)
	}
	for name, do := range map[string]func(){
		"history":   func() { c.History(piece) },
		"rack":      func() { c.Rack() },
		"due":       func() { c.Due(time.Now(), donors, CustodyRules{LookDays: [3]int{14, 14, 28}}) },
		"reconcile": func() { c.Reconcile(code, donors[0].Runs) },
		"enter": func() {
			if _, err := l.Enter(ctx, LedgerEntry{Who: "AB", Deed: Move, Piece: piece, To: "box", Why: "x"}); err != nil {
				b.Fatal(err)
			}
		},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				do()
			}
		})
	}
}
