package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sectionary/atlas"
)

// custodyVerb groups what keeps track of every piece from the day it comes in to the day it goes back.
func custodyVerb(t *tool) *cobra.Command {
	c := &cobra.Command{
		Use: "custody", Short: "Pieces, containers, loans, looks, due days and the return of a donor",
		Long: `Pieces, containers, loans, looks, due days and the return of a donor. What is entered is never deleted: "undo" adds a
line that takes another back. A CODE is that of a tag; a slip in it is explained. A place is a code, a name or words.`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			return misused(`custody needs a verb of its own; "sectionary custody -help" lists them`)
		},
	}
	for _, d := range deeds {
		c.AddCommand(d.verb(t))
	}
	c.AddCommand(rackVerb(t), dueVerb(t), historyVerb(t), ledgerVerb(t), reconcileVerb(t), countVerb(t), tagsVerb(t), calendarVerb(t), looksVerb(t))
	return c
}

// entryFlags are what a line of the ledger can say.
type entryFlags struct {
	who, why, to, from, donor, due string
	kind, name, run                string
	slab                           int
	mass, lost                     float64
	pieces                         []string
	wetting, wrap, mould           string
}

// has tells which flags a deed takes besides -who and -why.
type has uint

const (
	hasTo has = 1 << iota
	hasDue
	hasNew // kind, name, donor
	hasPieces
	hasCondition
	hasMass
)

// deedVerbs are the deeds at the prompt. On is what stands behind the library: codes, a donor, a line, or nothing.
type deedVerb struct {
	deed  atlas.Deed
	name  string
	on    string
	short string
	takes has
}

var deeds = []deedVerb{
	{atlas.Receive, "receive", "", "A piece comes in or is cut from the donor", hasNew | hasTo | hasMass},
	{atlas.Provide, "provide", "", "A container or shelf comes into use", hasNew | hasTo},
	{atlas.Split, "split", "CODE", "A piece becomes others and is no more", hasPieces | hasTo},
	{atlas.Trim, "trim", "CODE", "Something is taken off a piece, which stays", hasPieces | hasTo},
	{atlas.Move, "move", "CODE...", "Pieces, containers or shelves go to another place", hasTo},
	{atlas.Lend, "lend", "CODE...", "Pieces, or all in a container, go on loan", hasTo | hasDue},
	{atlas.Back, "back", "CODE...", "Loans come back to a place", hasTo},
	{atlas.Miss, "missing", "CODE...", "Pieces were looked for and not found", 0},
	{atlas.Look, "look", "CODE...", "Condition seen of pieces, or of all in a container", hasCondition},
	{atlas.Weigh, "weigh", "CODE", "A new mass, and why it differs", hasMass},
	{atlas.Discard, "discard", "CODE...", "Empty containers or shelves go out of use", 0},
	{atlas.Keep, "hold", "DONOR", "A donor may not be returned until this is lifted", 0},
	{atlas.Lift, "lift", "DONOR LINE", "A hold no longer counts", 0},
	{atlas.Ready, "ready", "DONOR", "Mark a donor ready to return, when everything is accounted for", 0},
	{atlas.Return, "return", "DONOR|CODE...", "A donor that is ready goes back, or single pieces do", 0},
	{atlas.Undo, "undo", "LINE", "A line was a mistake", 0},
}

func (d deedVerb) verb(t *tool) *cobra.Command {
	var f entryFlags
	c := &cobra.Command{
		Use: strings.TrimSpace(d.name + " LIB " + d.on), Short: d.short,
		Args: func(c *cobra.Command, args []string) error {
			want := 1 + len(strings.Fields(d.on))
			if len(args) < want || (len(args) > want && !strings.HasSuffix(d.on, "...")) {
				return misused("%s takes %s", c.CommandPath(), strings.TrimSpace("LIB "+d.on))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				now, err := lib.Custody(c.Context())
				if err != nil {
					return err
				}
				lines, err := d.lines(now, f, args[1:])
				if err != nil {
					return err
				}
				got, err := lib.EnterAll(c.Context(), lines...)
				if err != nil {
					return err
				}
				return t.entered(c, lib, got)
			})
		},
	}
	d.flags(c, &f)
	return needs(c, "who")
}

func (d deedVerb) flags(c *cobra.Command, f *entryFlags) {
	l := c.Flags()
	l.StringVar(&f.who, "who", "", "who enters this: initials or a role")
	l.StringVar(&f.why, "why", "", "the reason, in a few words")
	if d.takes&hasTo != 0 {
		l.StringVar(&f.to, "to", "", "the place, or who borrows")
	}
	if d.takes&hasDue != 0 {
		l.StringVar(&f.due, "due", "", "the day the loan is due back, as 2030-01-01")
	}
	if d.takes&hasNew != 0 {
		l.StringVar(&f.kind, "kind", "", "slab, part, sample, trimmings or debris; container or shelf")
		l.StringVar(&f.name, "name", "", "what it is called: slab 9, box 3")
		l.StringVar(&f.donor, "donor", "", "the donor's lab code")
	}
	if d.takes&hasNew != 0 && d.deed == atlas.Receive {
		l.StringVar(&f.run, "run", "", "the run that a slab belongs to")
		l.IntVar(&f.slab, "slab", 0, "its number in the run")
	}
	if d.takes&hasMass != 0 {
		l.Float64Var(&f.mass, "mass", 0, "grams")
	}
	if d.takes&hasPieces != 0 {
		l.StringArrayVar(&f.pieces, "piece", nil, "one new piece as kind:name:grams; once for each")
		l.Float64Var(&f.lost, "lost", 0, "grams that became dust or ran off")
	}
	if d.takes&hasCondition != 0 {
		l.StringVar(&f.wetting, "wetting", "", "good or poor; left out, not looked at")
		l.StringVar(&f.wrap, "wrap", "", "good or poor")
		l.StringVar(&f.mould, "mould", "", "good (none) or poor (seen)")
	}
}

// lines are what a deed enters for what it is done to.
func (d deedVerb) lines(c atlas.Custody, f entryFlags, on []string) (out []atlas.LedgerEntry, err error) {
	e := atlas.LedgerEntry{Who: f.who, Deed: d.deed, Why: f.why, To: f.to, Donor: f.donor, Mass: f.mass, Lost: f.lost}
	if f.due != "" {
		if e.Due, err = time.Parse(time.DateOnly, f.due); err != nil {
			return nil, misused("-due takes a day as 2030-01-01, not %q", f.due)
		}
	}
	if d.takes&hasCondition != 0 {
		e.Condition = &atlas.Condition{Wetting: atlas.Seen(f.wetting), Wrap: atlas.Seen(f.wrap), Mould: atlas.Seen(f.mould)}
	}
	if d.takes&hasNew != 0 {
		e.Made, e.Mass = []atlas.Made{{Kind: atlas.PieceKind(f.kind), Name: f.name, Mass: f.mass, Run: f.run, Slab: f.slab}}, 0
	}
	for _, text := range f.pieces {
		m, err := readMade(text)
		if err != nil {
			return nil, err
		}
		e.Made = append(e.Made, m)
	}
	switch d.deed {
	case atlas.Keep, atlas.Ready:
		e.Donor = on[0]
	case atlas.Lift:
		e.Donor = on[0]
		e.Line, err = lineNumber(on[1])
	case atlas.Undo:
		e.Line, err = lineNumber(on[0])
	case atlas.Return:
		if len(c.Pieces(on[0])) > 0 && len(on) == 1 {
			e.Donor = on[0]
			break
		}
		return pieceLines(c, e, on)
	case atlas.Receive, atlas.Provide:
	default:
		return pieceLines(c, e, on)
	}
	return []atlas.LedgerEntry{e}, err
}

func lineNumber(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return 0, misused("%q is not the number of a line", text)
	}
	return n, nil
}

// readMade reads kind:name:grams.
func readMade(text string) (m atlas.Made, err error) {
	part := strings.Split(text, ":")
	if len(part) != 3 {
		return m, misused("-piece takes kind:name:grams, as part:upper half:80, not %q", text)
	}
	if m.Mass, err = strconv.ParseFloat(strings.TrimSpace(part[2]), 64); err != nil {
		return m, misused("-piece %q: %q is not a mass in grams", text, part[2])
	}
	m.Kind, m.Name = atlas.PieceKind(strings.TrimSpace(part[0])), part[1]
	return m, nil
}

// pieceLines is e for each code; a container that is lent means all that lies in it.
func pieceLines(c atlas.Custody, e atlas.LedgerEntry, codes []string) (out []atlas.LedgerEntry, err error) {
	for _, text := range codes {
		if e.Piece, err = c.Find(text); err != nil {
			return nil, err
		}
		if _, box := c.Holder(e.Piece); !box || e.Deed != atlas.Lend {
			out = append(out, e)
			continue
		}
		inside := c.In(e.Piece)
		if len(inside) == 0 {
			return nil, fmt.Errorf("%s is empty", c.PlaceWords(e.Piece))
		}
		for _, p := range inside {
			e.Piece = p.Code
			out = append(out, e)
		}
	}
	return out, nil
}

// entered answers with the lines as they stand now.
func (t *tool) entered(c *cobra.Command, lib *atlas.Library, lines []atlas.LedgerEntry) error {
	now, err := lib.Custody(c.Context())
	if err != nil {
		return err
	}
	var b strings.Builder
	for _, e := range lines {
		b.WriteString(lineWords(now, atlas.Past{LedgerEntry: e}) + "\n")
		if e.ClockBack {
			t.note("The clock stands before the last line of the ledger; that line's time was taken. Check the clock.")
		}
	}
	return t.answer(map[string]any{"lines": lines}, b.String())
}

func lineWords(c atlas.Custody, e atlas.Past) string {
	parts := []string{fmt.Sprintf("%4d  %s  %s", e.Number, e.When(), e.Who)}
	about := e.Piece
	if about == "" {
		about = e.Donor
	}
	for _, m := range e.Made {
		if e.Deed == atlas.Receive || e.Deed == atlas.Provide {
			about = m.Code + " " + m.Name
		}
	}
	parts = append(parts, strings.TrimSpace(about+" "+c.DeedWords(e)))
	for _, x := range []string{c.FromTo(e.LedgerEntry), e.Why} {
		if x != "" {
			parts = append(parts, x)
		}
	}
	if e.Undone {
		parts = append(parts, "(taken back)")
	}
	return strings.Join(parts, "  ")
}
