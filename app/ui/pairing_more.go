package ui

import "sectionary/app/bench"

// tieNote is the line below a landmark: what was picked, and whether it should be looked at again. The table says the rest.
func tieNote(x bench.TieRow) string {
	switch {
	case x.Suspect && x.Note != "":
		return x.Note + "  ·  " + say("tie.again")
	case x.Suspect:
		return say("tie.again")
	}
	return x.Note
}
