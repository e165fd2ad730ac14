package atlas

import (
	"math"
	"slices"
	"time"
)

// law is what a line is judged by besides the lines before it: the donors with their agreements and runs. Lines that
// were written already are read without: what held then need not hold now.
type law func(donor string) (Donor, bool)

// with returns c after one more line, or ErrDeed.
func (c Custody) with(e LedgerEntry, by law) (Custody, error) {
	next := c.copy()
	err := next.add(e, by)
	return next, err
}

// add is with in place; when it fails c is of no further use. by is nil when the line was judged before.
func (c *Custody) add(e LedgerEntry, by law) error {
	if by != nil {
		if err := c.judge(e, by); err != nil {
			return err
		}
	}
	if e.Deed == Undo {
		if err := c.undo(e); err != nil {
			return err
		}
	} else if err := c.apply(e); err != nil {
		return err
	}
	c.entries = append(c.entries, e)
	c.made += len(e.Made)
	return nil
}

// undo takes a line back: what stands without it must be possible; lines that build on it forbid it.
func (c *Custody) undo(e LedgerEntry) error {
	if err := c.undoable(e.Line); err != nil {
		return err
	}
	c.undone[e.Line] = true
	fresh := newState()
	for _, old := range c.entries {
		if old.Deed == Undo || c.undone[old.Number] {
			continue
		}
		if err := fresh.apply(old); err != nil {
			return noDeed("line %d cannot be undone, line %d builds on it; take that one back first", e.Line, old.Number)
		}
	}
	c.state = fresh
	return nil
}

// inside names something that lies in or stands on a container or shelf, "" when it is empty.
func (s *state) inside(code string) string {
	for _, p := range s.pieces {
		if p.Place == code && p.Here() {
			return pieceWords(*p)
		}
	}
	for _, h := range s.holders {
		if h.On == code && !h.Gone {
			return h.Name
		}
	}
	return ""
}

func (c Custody) undoable(line int) error {
	switch {
	case line < 1 || line > len(c.entries):
		return noDeed("there is no line %d", line)
	case c.undone[line]:
		return noDeed("line %d is undone already", line)
	case c.entries[line-1].Deed == Undo:
		return noDeed("line %d takes another back; enter the deed anew instead", line)
	}
	return nil
}

// apply changes s by one line that is not Undo. It changes nothing when it fails.
func (s *state) apply(e LedgerEntry) error {
	for _, g := range append([]float64{e.Mass, e.Lost}, masses(e.Made)...) {
		if g < 0 || math.IsNaN(g) || g > 1e6 {
			return noDeed("%g grams cannot be", g)
		}
	}
	for i, m := range e.Made {
		again := slices.ContainsFunc(e.Made[:i], func(x Made) bool { return x.Code == m.Code })
		if again || m.Code == "" || s.pieces[m.Code] != nil || s.holders[m.Code] != nil {
			return noDeed("the code %q was given already", m.Code)
		}
	}
	if e.Deed != Lend && e.Day != "" && soundCode(e.To) {
		if h, ok := s.holders[e.To]; !ok || h.Gone {
			return noDeed("no container or shelf in use has the code %s", e.To)
		}
	}
	switch e.Deed {
	case Receive:
		if len(e.Made) != 1 || e.Donor == "" || e.To == "" || !e.Made[0].isPiece() {
			return noDeed("receiving needs one piece, its donor and its place")
		}
		s.make(e, e.Made[0], nil, e.Donor)
		return nil
	case Provide:
		return s.provide(e)
	case Keep, Lift, Ready:
		return s.mark(e)
	case Return:
		if e.Piece == "" {
			return s.returnAll(e)
		}
	}
	if h, ok := s.holders[e.Piece]; ok {
		return s.changeHolder(*h, e)
	}
	old, ok := s.pieces[e.Piece]
	if !ok {
		return noDeed("there is no piece %s", e.Piece)
	}
	if !old.Here() {
		return noDeed("%s was %s", e.Piece, map[bool]string{true: "split up", false: "returned"}[old.Split])
	}
	p := *old
	if err := s.change(&p, e); err != nil {
		return err
	}
	s.pieces[e.Piece] = &p
	return nil
}

func masses(made []Made) (out []float64) {
	for _, m := range made {
		out = append(out, m.Mass)
	}
	return out
}

func (m Made) isPiece() bool { return slices.Contains(PieceKinds, m.Kind) }

// make brings a piece into being; parent is nil for one that came from the donor itself. A child has its parent's level.
func (s *state) make(e LedgerEntry, m Made, parent *Piece, donor string) {
	p := &Piece{Made: m, Donor: donor, Place: e.To, Line: e.Number, Came: e.day()}
	if parent == nil {
		s.in[donor] += m.Mass
	} else {
		p.Parent = parent.Code
		if m.Run == "" {
			p.Run, p.Slab = parent.Run, parent.Slab
		}
	}
	s.pieces[m.Code] = p
}

// provide brings a container or shelf into use.
func (s *state) provide(e LedgerEntry) error {
	if len(e.Made) != 1 || e.Made[0].isPiece() || e.Made[0].Mass != 0 {
		return noDeed("bringing into use needs one container or shelf")
	}
	h := &Holder{Code: e.Made[0].Code, Kind: e.Made[0].Kind, Name: e.Made[0].Name, Donor: e.Donor, On: e.To, Line: e.Number}
	s.holders[h.Code] = h
	return nil
}

// mark does what a line about a whole donor says.
func (s *state) mark(e LedgerEntry) error {
	if e.Donor == "" {
		return noDeed("a line about a donor needs the donor's code")
	}
	switch e.Deed {
	case Keep:
		s.holds[e.Donor] = append(slices.Clip(s.holds[e.Donor]), Hold{Line: e.Number, Day: e.day(), Who: e.Who, Why: e.Why})
	case Lift:
		at := slices.IndexFunc(s.holds[e.Donor], func(h Hold) bool { return h.Line == e.Line })
		if at < 0 {
			return noDeed("line %d is no hold on %s", e.Line, e.Donor)
		}
		s.holds[e.Donor] = slices.Delete(slices.Clone(s.holds[e.Donor]), at, at+1)
	case Ready:
		if s.ready[e.Donor] != 0 {
			return noDeed("%s is marked ready to return already", e.Donor)
		}
		s.ready[e.Donor] = e.Number
	}
	return nil
}

// returnAll hands back all that is here of a donor, children before parents by nature of being all.
func (s *state) returnAll(e LedgerEntry) error {
	if e.Donor == "" || s.ready[e.Donor] == 0 {
		return noDeed("mark donor %s ready to return first", e.Donor)
	}
	n := 0
	for _, p := range s.pieces {
		if p.Donor == e.Donor && p.Here() && (p.Loan != "" || p.Missing) {
			return noDeed("%s is on loan or missing; it must come back first", p.Code)
		}
	}
	for code, old := range s.pieces {
		if old.Donor == e.Donor && old.Here() {
			p := *old
			p.Place, p.Returned = "", true
			s.pieces[code] = &p
			n++
		}
	}
	if n == 0 {
		return noDeed("nothing of %s is here", e.Donor)
	}
	return nil
}

// changeHolder does to a container or shelf what the line says.
func (s *state) changeHolder(h Holder, e LedgerEntry) error {
	if h.Gone {
		return noDeed("%s is out of use", h.Name)
	}
	switch e.Deed {
	case Move:
		if e.To == "" {
			return noDeed("moving needs a place")
		}
		h.On = e.To
	case Look:
		for code, old := range s.pieces {
			if old.Place == h.Code && old.Here() {
				p := *old
				p.see(e)
				s.pieces[code] = &p
			}
		}
	case Discard:
		if what := s.inside(h.Code); what != "" {
			return noDeed("%s is not empty: %s is there", h.Name, what)
		}
		h.Gone, h.On = true, ""
	default:
		return noDeed("%s is a %s: it can be moved, looked at and taken out of use; enter this for the pieces in it", h.Name, h.Kind)
	}
	s.holders[h.Code] = &h
	return nil
}

// see notes a condition look; a look of format 2 does not say what it looked at and counts for all.
func (p *Piece) see(e LedgerEntry) {
	for _, a := range Aspects {
		if e.Condition == nil {
			p.Looks[a] = Sight{Day: e.day(), Seen: p.Looks[a].Seen}
		} else if seen := e.Condition.Of(a); seen != NotSeen {
			p.Looks[a] = Sight{Day: e.day(), Seen: seen}
		}
	}
}

// change does to p, which is here, what the line says.
func (s *state) change(p *Piece, e LedgerEntry) error {
	switch {
	case p.Loan != "" && e.Deed != Back && e.Deed != Look && e.Deed != Miss:
		return noDeed("%s is on loan to %s; it must come back first", p.Code, p.Loan)
	case p.Missing && e.Deed != Move:
		return noDeed("%s is missing; enter where it was found first", p.Code)
	}
	switch e.Deed {
	case Split, Trim:
		return s.divide(p, e)
	case Move:
		if e.To == "" {
			return noDeed("moving needs a place")
		}
		p.Place, p.Missing = e.To, false
	case Miss:
		p.Place, p.Loan, p.Due, p.Lent, p.Missing = "", "", time.Time{}, 0, true
	case Lend:
		if e.To == "" || e.Due.IsZero() {
			return noDeed("a loan needs a borrower and a day")
		}
		p.Place, p.Loan, p.Due, p.Lent = "", e.To, civil(e.Due), e.Number
	case Back:
		if p.Loan == "" {
			return noDeed("%s is not on loan", p.Code)
		}
		if e.To == "" {
			return noDeed("coming back needs a place")
		}
		p.Place, p.Loan, p.Due, p.Lent = e.To, "", time.Time{}, 0
	case Look:
		p.see(e)
	case Weigh:
		if e.Mass == 0 || e.Why == "" {
			return noDeed("weighing needs a mass and the reason for the difference")
		}
		if p.Mass > 0 {
			s.lose(e, p.Donor, p.Mass-e.Mass)
		} else {
			s.in[p.Donor] += e.Mass // weighed for the first time
		}
		p.Mass = e.Mass
	case Return:
		if child, ok := s.childHere(p, e.Day != ""); ok {
			return noDeed("%s cannot be returned without %s, which was taken from it", p.Code, child)
		}
		p.Place, p.Returned = "", true
	default:
		return noDeed("there is no deed %q for a piece", e.Deed)
	}
	return nil
}

// childHere finds something that was taken from p and is still here; with deep also what was taken from that. Lines of
// format 2 did not look so far, and stand as they were accepted.
func (s *state) childHere(p *Piece, deep bool) (code string, ok bool) {
	for _, code := range p.Children {
		child := s.pieces[code]
		if child.Here() {
			return code, true
		}
		if code, ok := s.childHere(child, true); deep && ok {
			return code, true
		}
	}
	return "", false
}

// lose notes grams that are no longer here.
func (s *state) lose(e LedgerEntry, donor string, grams float64) {
	s.lost[donor] += grams
	s.loss[e.Number] = grams
}

// gramSlack is how far masses may miss their sum: a kitchen balance's last digit, a few times over.
const gramSlack = 0.5

// divide makes children of p. Their masses and what was lost add up to what p loses.
func (s *state) divide(p *Piece, e LedgerEntry) error {
	if len(e.Made) == 0 || e.To == "" || (e.Deed == Split && len(e.Made) < 2) {
		return noDeed("dividing %s needs its new pieces and their place", p.Code)
	}
	sum := e.Lost
	for _, m := range e.Made {
		if !m.isPiece() {
			return noDeed("a %s cannot be taken from a piece", m.Kind)
		}
		if p.Mass > 0 && m.Mass == 0 {
			return noDeed("%s was weighed, so what is taken from it must be weighed: %s", p.Code, m.Name)
		}
		if p.Mass == 0 && m.Mass > 0 {
			return noDeed("weigh %s before it is divided", p.Code)
		}
		sum += m.Mass
	}
	if p.Mass > 0 {
		if e.Deed == Split && math.Abs(sum-p.Mass) > gramSlack {
			return noDeed("the new pieces and what was lost weigh %.1f g, %s weighed %.1f g", sum, p.Code, p.Mass)
		}
		if e.Deed == Trim && sum >= p.Mass {
			return noDeed("%.1f g cannot be taken from %s, which weighs %.1f g", sum, p.Code, p.Mass)
		}
		if e.Deed == Split {
			e.Lost += p.Mass - sum // the slack is lost, too, so that the books balance
		}
	}
	for _, m := range e.Made {
		s.make(e, m, p, p.Donor)
		p.Children = append(slices.Clip(p.Children), m.Code)
	}
	s.lose(e, p.Donor, e.Lost)
	if e.Deed == Split {
		p.Split, p.Place, p.Mass = true, "", 0
		return nil
	}
	p.Mass = math.Max(0, p.Mass-sum)
	return nil
}
