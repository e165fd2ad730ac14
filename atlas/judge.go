package atlas

import (
	"slices"
	"strings"
)

// judge refuses what a line that is being entered may not do, beyond what the lines before it forbid.
func (c Custody) judge(e LedgerEntry, by law) error {
	if strings.TrimSpace(e.Why) == "" && needsWhy(e) {
		return noDeed("say why, in a few words")
	}
	donor := e.Donor
	if p, ok := c.pieces[e.Piece]; ok {
		donor = p.Donor
	}
	if c.ready[donor] != 0 && slices.Contains([]Deed{Receive, Split, Trim, Lend, Weigh}, e.Deed) {
		return noDeed("donor %s is marked ready to return; take line %d back first", donor, c.ready[donor])
	}
	if err := c.judgePlace(e, donor); err != nil {
		return err
	}
	d, known := by(donor)
	if e.Donor != "" && !known {
		return naming("donor "+e.Donor, ErrNotFound)
	}
	switch e.Deed {
	case Receive:
		return c.judgeNew(e, d)
	case Provide:
		return c.judgeHolder(e)
	case Split, Trim:
		return c.judgeNew(e, d)
	case Look:
		if e.Condition == nil || *e.Condition == (Condition{}) {
			return noDeed("say what was seen: wetting, wrap or mould")
		}
		for _, a := range Aspects {
			if s := e.Condition.Of(a); s != NotSeen && s != Good && s != Poor {
				return noDeed("%s can be good or poor, not %q", a, s)
			}
		}
	case Lend:
		return judgeLoan(e, d)
	case Ready:
		if r := c.Reconcile(e.Donor, d.Runs); !r.Ready {
			return noDeed("cannot mark ready to return: %s", r.Sentence())
		}
	case Return:
		return c.judgeReturn(e, donor)
	}
	return nil
}

// needsWhy tells of which deeds the reason must be given.
func needsWhy(e LedgerEntry) bool {
	switch e.Deed {
	case Move, Lend, Miss, Keep, Lift, Undo, Discard:
		return true
	case Split, Trim:
		return e.Lost > 0
	}
	return false
}

// judgePlace keeps pieces of one donor out of containers kept for another.
func (c Custody) judgePlace(e LedgerEntry, donor string) error {
	if e.Deed == Lend || e.To == "" {
		return nil
	}
	h, ok := c.holders[e.To]
	if !ok {
		return nil
	}
	if h.Gone {
		return noDeed("%s is out of use", h.Name)
	}
	if e.Deed == Provide || c.holders[e.Piece] != nil {
		if h.Kind != ShelfKind || e.Piece == h.Code || (len(e.Made) == 1 && e.Made[0].Kind == ShelfKind) || c.isShelf(e.Piece) {
			return noDeed("a container stands on a shelf, and a shelf in a room")
		}
		return nil
	}
	if h.Donor != "" && h.Donor != donor {
		return noDeed("%s is kept for donor %s; this is of donor %s", h.Name, h.Donor, donor)
	}
	return nil
}

func (c Custody) isShelf(code string) bool {
	h, ok := c.holders[code]
	return ok && h.Kind == ShelfKind
}

// judgeNew refuses a slab that its run does not have, or that came in already.
func (c Custody) judgeNew(e LedgerEntry, d Donor) error {
	for _, m := range e.Made {
		if m.Kind != SlabPiece || m.Run == "" {
			continue
		}
		found := false
		for _, r := range d.Runs {
			for _, s := range r.Slabs {
				found = found || r.ID == m.Run && s.Number == m.Slab
			}
		}
		if !found {
			return noDeed("donor %s has no slab %d in run %s", d.Code, m.Slab, m.Run)
		}
		for _, p := range c.pieces {
			if e.Deed == Receive && p.Kind == SlabPiece && p.Run == m.Run && p.Slab == m.Slab {
				return noDeed("slab %d of this run came in already, as %s", m.Slab, p.Code)
			}
		}
	}
	return nil
}

// judgeHolder refuses two containers or shelves of one name.
func (c Custody) judgeHolder(e LedgerEntry) error {
	if len(e.Made) != 1 {
		return nil // apply says so
	}
	for _, h := range c.holders {
		if !h.Gone && h.Kind == e.Made[0].Kind && strings.EqualFold(h.Name, e.Made[0].Name) {
			return noDeed("there is a %s named %s already", h.Kind, h.Name)
		}
	}
	return nil
}

func judgeLoan(e LedgerEntry, d Donor) error {
	if e.Due.IsZero() {
		return nil // apply says so
	}
	if due := civil(e.Due); due.Before(e.day()) {
		return noDeed("the loan would end before it begins")
	} else if last := d.Agreement.Ends; !last.IsZero() && due.After(civil(last)) {
		return noDeed("the loan would last until %s, past the donor's due date, %s", due.Format(dayWords), last.Format(dayWords))
	}
	return nil
}

func (c Custody) judgeReturn(e LedgerEntry, donor string) error {
	if h := c.holds[donor]; len(h) > 0 {
		return noDeed("donor %s is on hold since %s: %s", donor, h[0].Day.Format(dayWords), h[0].Why)
	}
	if e.Piece == "" || c.ready[donor] != 0 {
		return nil
	}
	for _, p := range c.pieces {
		if p.Donor == donor && p.Here() && p.Code != e.Piece {
			return nil
		}
	}
	return noDeed("this is the last of donor %s; mark the donor ready to return first", donor)
}
