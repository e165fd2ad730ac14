package ui

import "sectionary/app/bench"

var longFacts = []string{"Trunk with both shoulders, slab 13, slab of donor SH-31M-2026-08, taken from trunk with both shoulders, slab 12 (0000AK).",
	"Container 4 on shelf B, second cold room behind the lift.", "Mass 1580.5 g.", "Taken from it: left kidney with its vessels (0000BX), on loan to Prof. Abercrombie-Featherstonehaugh until 31 December 2026."}

func (f *fake) Rack() bench.RackInfo {
	i := bench.RackInfo{Title: "trunk with both shoulders, slab 13 (0000AK)", Facts: longFacts, Chosen: "0000AK", Said: "Code \"0000AX\" cannot be; two neighbours may be swapped: 0000AK?", Refuse: true,
		Warn: "Overdue by 12 days: everything was due back on 13 November 2026.", Backup: "Whole lab last copied: 24 November 2026, 14:03, to /media/disk-of-the-lab/copies/teaching-2026.",
		Clock: "The clock of this machine stands before the last line. Days are counted from 25 November 2026."}
	if f.empty {
		return bench.RackInfo{Title: "Donor SH-31M", Facts: []string{"Nothing of this donor came in yet. Take in the run."}, Deeds: []bench.RackDeed{{ID: "newshelf", Label: "New shelf", Group: "donor"}, {ID: "takein", Label: "Take in the run", Group: "donor"}}}
	}
	for range 5 {
		i.Hits = append(i.Hits, bench.RackHit{Code: "0000AK", Words: "trunk with both shoulders, slab 13, slab of donor SH-31M-2026-08, taken from trunk"})
		i.Due = append(i.Due, bench.DueRow{Code: "0000AK", Words: "Left kidney with its vessels (0000BX), on loan to Prof. Abercrombie-Featherstonehaugh, is overdue by 12 days", Overdue: true})
	}
	for _, g := range []string{"thing", "donor", "lab"} {
		for _, l := range []string{"Move", "Agreement and due day", "Go back to an earlier catalogue", "Write due days as a calendar file"} {
			i.Deeds = append(i.Deeds, bench.RackDeed{ID: l, Label: l, Group: g})
		}
	}
	return i
}

func (f *fake) RackForm() *bench.RackForm { return f.form }
func (f *fake) OwnCaution() string        { return f.own }
func (f *fake) DueWords() (string, bool) {
	return "Overdue by 12 days: everything was due back on 13 November 2026.", true
}
func (f *fake) SubmitRackForm()           { f.call("submit") }
func (f *fake) LeaveRackForm()            { f.call("leave"); f.form = nil; f.changed(bench.RackChanged) }
func (f *fake) FindItem(typed string)     { f.call("find " + typed) }
func (f *fake) BeginDeed(id string)       { f.call("deed " + id) }
func (f *fake) SetRackField(id, v string) { f.call("set " + id + " " + v) }
func (f *fake) RackPane() bench.Pane      { return &fakePane{} }
func (f *fake) LedgerPane() bench.Pane    { return &fakePane{} }
func (f *fake) Ledger() bench.LedgerInfo {
	if f.empty {
		return bench.LedgerInfo{Title: "The ledger", Chain: "Nothing is entered yet. Take in the run on the rack.", Whole: true}
	}
	return bench.LedgerInfo{Title: longFacts[0], Chain: "The chain is broken. Line 1204 of the ledger: altered, or the line before it", Broken: true, Line: 1203, Facts: longFacts, Item: "0000AK", Said: "Line 1204 is written: moved, container 4 on shelf B to container 5 on shelf A."}
}

func lookForm() *bench.RackForm {
	seen := []string{"Not looked", "Whole", "Torn or open"}
	return &bench.RackForm{ID: "look", Title: "Condition look: trunk with both shoulders, slab 13", Words: "What was seen today. Of a container, it counts for every piece in it.", OK: "Condition look",
		Problem: "The loan would last until 31 December 2026, past the donor's due date, 13 November 2026", Cards: []string{"mould"},
		Fields: []bench.RackField{{ID: "wrap", Caption: "Wrap", Options: seen, Value: "Whole"}, {ID: "place", Caption: "Where to", Free: true, Options: []string{"Container 4", "Shelf B, second cold room", "Container 12"}},
			{ID: "folder", Caption: "Folder", Free: true, Folder: true}, {ID: "name", Caption: "Second piece", Free: true, Value: "trunk, slab 9, second half"}, {ID: "mass", Caption: "Saw debris pot, g (empty for none, 0 when not weighed)", Free: true, Beside: true}, {ID: "masses", Caption: "Masses of the 24 slabs in order, g, with a space between (or weigh them later)", Free: true}, {ID: "who", Caption: "Who", Free: true, Value: "A. Okafor"}}}
}
