package bench

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"sectionary/atlas"
)

// rackRoom is what the rack and the ledger show of the open lab.
type rackRoom struct {
	custody atlas.Custody
	rules   atlas.CustodyRules
	due     []atlas.Due
	back    bool   // the clock stands before the last line
	broken  string // why the ledger cannot be read, "" when it can

	chosen string // code of a piece, container or shelf; "" for the donor
	open   string // the container or place whose pieces are laid out
	said   string // what came of the last search or deed
	warn   bool   // said is a refusal
	hits   []RackHit
	form   *RackForm
	of     string // the donor whose state the slip tells
	who    string // who wrote the last line of this sitting

	ledger ledgerView
	faults []string // damaged items, named
	looked bool     // for faults
}

// RackHit is one thing found by its words.
type RackHit struct{ Code, Words string }

// DueRow is one thing that falls due.
type DueRow struct {
	Code, Words string
	Overdue     bool
}

// RackInfo is the slip beside the rack: what is chosen, what is known of it, and what can be entered.
type RackInfo struct {
	Broken string // the ledger's damage in words; nothing else is shown then
	Chosen string // code, "" for the donor as a whole
	Title  string
	Facts  []string // one sentence each
	Warn   string   // what is overdue or stands in the way, "" for nothing
	Said   string   // what came of the last search or deed
	Refuse bool     // Said is a refusal
	Hits   []RackHit
	Due    []DueRow
	Clock  string // that the clock stands before the last line, else ""
	Backup string // when and where the last copies were made
	Faults []string
	Deeds  []RackDeed
}

// RackDeed is something that can be done with what is chosen.
type RackDeed struct {
	ID, Label, Group string // Group is "thing", "donor" or "lab"
	Why              string // why it cannot be done now, "" when it can
}

// keeper is the open lab where custody is kept, nil where none is.
func (b *Bench) keeper() *atlas.Library {
	lib, _ := b.lab.lib.(*atlas.Library)
	return lib
}

// today is the day to reckon with.
func (b *Bench) today() time.Time {
	today, _ := b.rack.custody.Today(b.o.Now())
	return today
}

// readRack reads what the ledger says, the lab's rules and what falls due.
func (b *Bench) readRack() {
	lib, k := b.keeper(), &b.rack
	if lib == nil {
		return
	}
	var err error
	k.broken = ""
	if k.custody, err = lib.Custody(context.Background()); err != nil {
		k.broken = plainSentence(err)
		k.custody, k.due = atlas.Custody{}, nil
		return
	}
	if k.rules, err = lib.CustodyRules(); err != nil {
		b.Report(err)
	}
	var today time.Time
	today, k.back = k.custody.Today(b.o.Now())
	k.due = k.custody.Due(today, b.donorList(), k.rules)
	if !k.custody.Known(k.chosen) {
		k.chosen = ""
	}
}

func (b *Bench) donorList() (out []atlas.Donor) {
	for _, d := range b.lab.donors {
		out = append(out, d)
	}
	return out
}

// plainSentence is an error as a sentence for people, without the name of the part it comes from.
func plainSentence(err error) string {
	s := err.Error()
	for _, p := range []string{atlas.ErrDeed.Error() + ": ", ErrForm.Error() + ": ", "atlas: "} {
		s = strings.TrimPrefix(s, p)
	}
	return upperFirst(s)
}

// openRack reads the rack when it is gone to.
func (b *Bench) openRack() { b.readRack(); b.rack.said, b.rack.hits = "", nil }

// mostOverdue bounds what is listed at opening; the rack shows all.
const mostOverdue = 6

// sayOverdue tells at opening what is overdue, and that the ledger is damaged, so that nobody has to look for it.
func (b *Bench) sayOverdue() {
	k := &b.rack
	to := []Choice{{Word("rack.overdue.go"), func() { b.Show(RackScreen) }}, {Word("rack.overdue.later"), nil}}
	if k.broken != "" {
		b.say(Message{Title: Word("rack.broken"), Hint: k.broken + "\n" + Word("rack.broken.hint"), Choices: to})
		return
	}
	var lines []string
	for _, d := range k.due {
		if d.Overdue() {
			lines = append(lines, d.Words+".")
		}
	}
	if len(lines) == 0 {
		return
	}
	n := len(lines)
	if n > mostOverdue {
		lines = append(lines[:mostOverdue:mostOverdue], count("rack.overdue.more", n-mostOverdue))
	}
	b.say(Message{Title: count("rack.overdue", n), Hint: strings.Join(lines, "\n"), Choices: to})
}

// DueWords says when everything of the run's donor goes back, and whether that presses.
func (b *Bench) DueWords() (words string, warn bool) {
	a := b.Agreement()
	days, ok := a.DueIn(b.today())
	if !ok {
		return Word("rack.due.none"), false
	}
	day := a.Ends.Format("2 January 2006")
	switch {
	case b.rack.custody.Returned(b.Run().Donor):
		return Word("rack.due.returned", a.Returned.Format("2 January 2006")), false
	case days < 0:
		return count("rack.due.over", -days, day), true
	case days == 0:
		return Word("rack.due.today", day), true
	}
	return count("rack.due.in", days, day), days <= atlas.Reminders[0]
}

// Rack is the slip beside the rack.
func (b *Bench) Rack() RackInfo {
	k := &b.rack
	r := RackInfo{Broken: k.broken, Chosen: k.chosen, Said: k.said, Refuse: k.warn, Hits: k.hits, Faults: k.faults, Backup: b.backupWords()}
	if k.back {
		r.Clock = Word("rack.clock", b.today().Format("2 January 2006"))
	}
	if k.looked && len(k.faults) == 0 {
		r.Faults = []string{Word("rack.sound")}
	}
	if k.broken != "" {
		r.Title = Word("rack.broken")
		r.Facts = []string{k.broken, Word("rack.broken.hint")}
		r.Deeds = b.deeds("lab")
		return r
	}
	for _, d := range k.due {
		r.Due = append(r.Due, DueRow{d.Code, d.Words, d.Overdue()})
	}
	if h, ok := k.custody.Holder(k.chosen); ok {
		b.tellHolder(&r, h)
	} else if p, ok := k.custody.Piece(k.chosen); ok {
		b.tellPiece(&r, p)
	} else {
		b.tellDonor(&r)
	}
	r.Deeds = append(r.Deeds, b.deeds("lab")...)
	return r
}

func (b *Bench) tellHolder(r *RackInfo, h atlas.Holder) {
	c := b.rack.custody
	r.Title = h.Name + " (" + h.Code + ")"
	r.Facts = append(r.Facts, upperFirst(c.What(h.Code))+".")
	if h.Donor != "" {
		r.Facts = append(r.Facts, Word("rack.keptfor", h.Donor))
	}
	r.Facts = append(r.Facts, count("rack.holds", len(c.In(h.Code))))
	r.Deeds = b.deeds("thing")
}

func (b *Bench) tellPiece(r *RackInfo, p atlas.Piece) {
	c := b.rack.custody
	r.Title = p.Name + " (" + p.Code + ")"
	r.Facts = append(r.Facts, upperFirst(c.What(p.Code))+".", Word("rack.where", upperFirst(c.Whereabouts(p))))
	if p.Loan != "" && p.Lent > 0 && p.Lent <= c.Len() {
		e := c.Entries()[p.Lent-1]
		r.Facts = append(r.Facts, Word("rack.since", e.At.Format("2 January 2006"), e.Who, e.Why))
	}
	if p.Mass > 0 {
		r.Facts = append(r.Facts, Word("rack.mass", grams(p.Mass)))
	} else if p.Here() {
		r.Facts = append(r.Facts, Word("rack.mass.none"))
	}
	for _, code := range p.Children {
		if x, ok := c.Piece(code); ok {
			r.Facts = append(r.Facts, Word("rack.child", x.Name, x.Code, c.Whereabouts(x)))
		}
	}
	for _, a := range atlas.Aspects {
		if s := p.Looks[a]; s.Seen != atlas.NotSeen {
			seen := atlas.Condition{}
			*[...]*atlas.Seen{&seen.Wetting, &seen.Wrap, &seen.Mould}[a] = s.Seen
			r.Facts = append(r.Facts, Word("rack.look", upperFirst(a.String()), seen.SeenWords(), s.Day.Format("2 January 2006")))
		}
	}
	if warn := b.pressing(p.Code); warn != "" {
		r.Warn = warn
	}
	r.Deeds = b.deeds("thing")
}

// pressing says what of a thing is overdue, or has reached its last reminder.
func (b *Bench) pressing(code string) string {
	for _, d := range b.rack.due {
		if d.Code == code && d.Days <= atlas.Reminders[0] {
			return d.Words + "."
		}
	}
	return ""
}

func (b *Bench) tellDonor(r *RackInfo) {
	c, donor := b.rack.custody, b.Run().Donor
	if donor == "" {
		r.Title = Word("rack.nodonor")
		return
	}
	r.Title = Word("rack.donor", donor)
	words, warn := b.DueWords()
	if r.Facts = append(r.Facts, words); warn {
		r.Warn, r.Facts = words, nil
	}
	k := c.Reconcile(donor, b.lab.donors[donor].Runs)
	here, loan := 0, 0
	for _, p := range c.Pieces(donor) {
		if p.Here() {
			here++
			if p.Loan != "" {
				loan++
			}
		}
	}
	if here > 0 {
		r.Facts = append(r.Facts, Word("rack.pieces", here, loan))
	}
	if k.In > 0 {
		r.Facts = append(r.Facts, Word("rack.masses", grams(k.In), grams(k.Out), grams(k.Lost), grams(k.Gap())))
		for _, l := range k.Losses {
			why := l.Why
			if why == "" {
				why = Word("rack.noreason")
			}
			r.Facts = append(r.Facts, Word("rack.loss", l.Number, grams(l.Grams), why))
		}
	}
	switch a := b.lab.donors[donor].Agreement; {
	case c.Returned(donor):
		r.Facts = append(r.Facts, Word("rack.after."+afterKey(a.AfterReturn)))
	case c.Ready(donor) != 0:
		r.Facts = append(r.Facts, Word("rack.ready", c.Ready(donor)))
	case k.Ready:
		r.Facts = append(r.Facts, Word("rack.complete"))
	case here > 0:
		r.Facts = append(r.Facts, Word("rack.blocked"))
		for i, x := range k.Blocks {
			if i == mostBlocks {
				r.Facts = append(r.Facts, count("rack.overdue.more", len(k.Blocks)-i))
				break
			}
			r.Facts = append(r.Facts, "– "+x.Words)
		}
	default:
		r.Facts = append(r.Facts, Word("rack.empty"))
	}
	if rule := b.rack.rules.Rule; rule != "" {
		r.Facts = append(r.Facts, Word("rack.rule", rule))
	}
	r.Deeds = b.deeds("donor")
}

func afterKey(a atlas.AfterReturn) string {
	if a == atlas.NotRecorded {
		return "none"
	}
	return string(a)
}

// mostBlocks bounds what is listed of what stands in the way; the return list has it all.
const mostBlocks = 8

// grams writes a mass.
func grams(g float64) string { return fmt.Sprintf("%.1f g", g) }

// ChooseItem chooses a piece, container or shelf; "" for the donor. With a form open that asks for a place, a container or
// shelf is that place.
func (b *Bench) ChooseItem(code string) {
	k := &b.rack
	if k.form != nil {
		h, ok := k.custody.Holder(code)
		if ok && k.form.setPlace(h.Name) {
			b.changed(RackChanged)
		}
		return
	}
	if code != "" && !k.custody.Known(code) {
		return
	}
	k.chosen, k.said, k.hits = code, "", nil
	if p, ok := k.custody.Piece(code); ok && p.Place != "" {
		k.open = p.Place
	}
	b.changed(RackChanged)
}

// OpenBox lays out the pieces of a container or place, or closes it.
func (b *Bench) OpenBox(place string) {
	if b.rack.open == place {
		place = ""
	}
	b.rack.open = place
	b.changed(RackChanged)
}

// FindItem finds by code, as typed or scanned, or by words. A slip is explained.
func (b *Bench) FindItem(typed string) {
	k := &b.rack
	typed = strings.TrimSpace(typed)
	if typed == "" {
		b.ChooseItem("")
		return
	}
	code, err := k.custody.Find(typed)
	if err == nil {
		if h, ok := k.custody.Holder(code); ok && h.Kind == atlas.BoxKind && k.form == nil {
			k.open = code
		}
		b.ChooseItem(code)
		return
	}
	k.hits, k.said, k.warn = b.byWords(typed), "", false
	switch len(k.hits) {
	case 0:
		k.said, k.warn = plainSentence(err), true
		if i := strings.LastIndex(k.said, ": atlas: "); errors.Is(err, atlas.ErrNotFound) && i > 0 {
			k.said = k.said[:i]
		}
	case 1:
		hit := k.hits[0].Code
		b.ChooseItem(hit)
		return
	default:
		k.said = count("rack.hits", len(k.hits))
	}
	b.changed(RackChanged)
}

// mostHits bounds a list that is read by eye.
const mostHits = 12

// byWords lists things whose words hold what was typed; a code of a few letters is not looked for in words.
func (b *Bench) byWords(typed string) (out []RackHit) {
	c, low := b.rack.custody, strings.ToLower(typed)
	put := func(code, name string) {
		if len(out) < mostHits && strings.Contains(strings.ToLower(name), low) {
			out = append(out, RackHit{code, c.What(code)})
		}
	}
	for _, h := range c.Holders() {
		put(h.Code, h.Name)
	}
	for _, p := range c.Pieces("") {
		if p.Here() {
			put(p.Code, p.Name)
		}
	}
	return out
}

// OwnCaution is what the lab adds to its caution cards.
func (b *Bench) OwnCaution() string { return b.rack.rules.Card }
