package atlas

import (
	"fmt"
	"strings"
)

// What names a piece, container or shelf for people: "slab 9, slab of donor D-17", "box 3, container on shelf A".
func (c Custody) What(code string) string {
	if h, ok := c.holders[code]; ok {
		out := h.Name + ", " + string(h.Kind)
		if h.Gone {
			return out + " out of use"
		}
		if h.On != "" {
			out += " on " + c.PlaceWords(h.On)
		}
		return out
	}
	p, ok := c.pieces[code]
	if !ok {
		return code
	}
	out := p.Name + ", " + string(p.Kind) + " of donor " + p.Donor
	if parent, ok := c.pieces[p.Parent]; ok {
		out += ", taken from " + pieceWords(*parent)
	}
	return out
}

// When is the day and time of a line for people, and whether the clock had been set back.
func (e LedgerEntry) When() string {
	out := e.At.Format("2 January 2006, 15:04") + " UTC"
	if e.ClockBack {
		out += ", clock set back"
	}
	return out
}

// deedWords are the deeds as people say them.
var deedWords = map[Deed]string{Receive: "came in", Split: "split", Trim: "taken off", Move: "moved", Lend: "lent", Back: "came back", Miss: "not found", Look: "looked at",
	Weigh: "weighed", Provide: "brought into use", Discard: "out of use", Keep: "put on hold", Lift: "hold lifted", Ready: "marked ready to return",
	Return: "returned", Undo: "taken back"}

// Words names a deed, "" for one that does not exist.
func (d Deed) Words() string { return deedWords[d] }

// DeedWords says what a line did, with what it made, found or weighed.
func (c Custody) DeedWords(e Past) string {
	out := e.Deed.Words()
	var made []string
	for _, m := range e.Made {
		made = append(made, m.Name+" ("+m.Code+")"+massWords(m.Mass))
	}
	switch e.Deed {
	case Receive:
		if len(e.Made) == 1 { // the line names the piece itself
			out += massWords(e.Made[0].Mass)
		}
	case Split:
		out += " into " + strings.Join(made, " and ")
	case Trim:
		out += ": " + strings.Join(made, " and ")
	case Look:
		if e.Condition != nil {
			out += ": " + e.Condition.SeenWords()
		}
	case Weigh:
		out += fmt.Sprintf(": %g g", e.Mass)
	case Lend:
		out += " until " + e.Due.Format(dayWords)
	case Undo:
		out = fmt.Sprintf("line %d taken back", e.Line)
	case Lift:
		out = fmt.Sprintf("hold of line %d lifted", e.Line)
	}
	if e.Lost > 0 {
		out += fmt.Sprintf(", %g g lost", e.Lost)
	}
	if e.Within != "" {
		out += " with " + c.PlaceWords(e.Within)
	}
	return out
}

// massWords is a mass after what was weighed, "" for one that was not.
func massWords(g float64) string {
	if g == 0 {
		return ""
	}
	return fmt.Sprintf(", %g g", g)
}

// FromTo says from where to where a line moved a thing, "" when it did not.
func (c Custody) FromTo(e LedgerEntry) string {
	switch from, to := c.PlaceWords(e.From), c.PlaceWords(e.To); {
	case e.To == "" && e.Deed != Return && e.Deed != Discard:
		return from
	case from == "" || from == to:
		return to
	case to == "":
		return "from " + from
	default:
		return from + " to " + to
	}
}
