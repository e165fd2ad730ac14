package bench

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"sectionary/atlas"
)

// RackField is one thing a form asks for.
type RackField struct {
	ID, Caption, Value string
	Options            []string // to choose from; with Free, words to fill in at once
	Free               bool     // text may be typed
	Many               bool     // codes one after another: Return adds instead of moving on
	Folder             bool     // a folder, which may be picked
	Beside             bool     // short: stands beside the field before it
}

// RackForm is the slip on which one line of the ledger is written, or something of the lab is set.
type RackForm struct {
	ID, Title, Words, OK string
	Problem              string // why it could not be entered
	Fields               []RackField
	Cards                []string // cautions that belong to it
}

// value is what stands in a field.
func (f *RackForm) value(id string) string {
	for _, x := range f.Fields {
		if x.ID == id {
			return strings.TrimSpace(x.Value)
		}
	}
	return ""
}

// option is the number of the option chosen in a field, -1 for none.
func (f *RackForm) option(id string) int {
	for _, x := range f.Fields {
		for i, o := range x.Options {
			if x.ID == id && o == x.Value {
				return i
			}
		}
	}
	return -1
}

// setPlace fills the field that asks for a place; ok is false when none does.
func (f *RackForm) setPlace(name string) bool {
	for i := range f.Fields {
		if f.Fields[i].ID == "place" || f.Fields[i].ID == "shelf" {
			f.Fields[i].Value = name
			return true
		}
	}
	return false
}

// fields puts the fields of a form together.
func fields(make ...func(b *Bench) RackField) func(b *Bench) []RackField {
	return func(b *Bench) (out []RackField) {
		for _, m := range make {
			out = append(out, m(b))
		}
		return out
	}
}

func text(id, value string) func(*Bench) RackField {
	return func(*Bench) RackField {
		return RackField{ID: id, Caption: Word("field." + id), Value: value, Free: true}
	}
}

// who is whoever wrote the last line of this sitting, the person at the bench before there is one.
func who(b *Bench) RackField { return text("who", cmp.Or(b.rack.who, b.author))(b) }

// beside makes a field stand beside the one before it.
func beside(f RackField) RackField { f.Beside = true; return f }

// why asks for a reason; the words of key, one a line, are at hand.
func why(key ...string) func(*Bench) RackField {
	return func(b *Bench) RackField {
		f := text("why", "")(b)
		for _, k := range key {
			f.Options = strings.Split(Word(k), "\n")
		}
		return f
	}
}

func whyMaybe(b *Bench) RackField {
	f := text("why", "")(b)
	f.Caption = Word("field.note")
	return f
}

// place asks where to; containers and shelves are at hand by name.
func place(b *Bench) RackField {
	f := text("place", "")(b)
	for _, h := range b.rack.custody.Holders() {
		if h.Code != b.rack.chosen && len(f.Options) < 24 {
			f.Options = append(f.Options, h.Name)
		}
	}
	if len(f.Options) == 0 {
		f.Value = Word("rack.table")
	}
	return f
}

// placeBefore is the place a piece on loan was lent from, where it mostly goes back to.
func placeBefore(b *Bench) RackField {
	f := place(b)
	p, _ := b.rack.piece()
	for _, e := range b.rack.custody.History(b.rack.chosen) {
		if e.Number == p.Lent && e.From != "" {
			f.Value = b.placeName(e.From)
		}
	}
	return f
}

func shelfField(b *Bench) RackField {
	f := text("shelf", "")(b)
	for _, h := range b.rack.custody.Holders() {
		if h.Kind == atlas.ShelfKind {
			f.Options = append(f.Options, h.Name)
		}
	}
	return f
}

func borrower(b *Bench) RackField {
	f := text("borrower", "")(b)
	for _, l := range b.rack.custody.Loans() {
		f.Options = append(f.Options, l.Name)
	}
	return f
}

// usualLoan is how many days a loan lasts when nobody says otherwise.
const usualLoan = 14

func until(b *Bench) RackField {
	day := b.today().AddDate(0, 0, usualLoan)
	if p, ok := b.rack.custody.Piece(b.rack.chosen); ok {
		if ends := b.lab.donors[p.Donor].Agreement.Ends; !ends.IsZero() && ends.Before(day) {
			day = ends
		}
	}
	return text("until", day.Format(time.DateOnly))(b)
}

func aspect(id string) func(*Bench) RackField {
	return func(*Bench) RackField {
		o := strings.Split(Word("field."+id+".seen"), "\n")
		return RackField{ID: id, Caption: Word("field." + id), Options: o, Value: o[0]}
	}
}

func codes(b *Bench) RackField {
	f := text("codes", "")(b)
	f.Many = true
	return f
}

func folder(b *Bench) RackField {
	f := text("folder", b.lastCopy().dir)(b)
	f.Folder = true
	return f
}

// badField says what is wrong with a field and what to write instead, in the words "field.ID.bad".
func badField(id string, gaps ...any) error {
	return fmt.Errorf("%w: %s", ErrForm, Word("field."+id+".bad", gaps...))
}

// gramsOf reads a mass in grams; empty is 0, a comma may stand for the point.
func gramsOf(f *RackForm, id string) (float64, error) { return parseGrams(f.value(id)) }

func parseGrams(s string) (float64, error) {
	if s == "" {
		return 0, nil
	}
	v, err := strconv.ParseFloat(strings.TrimSuffix(strings.ReplaceAll(s, ",", "."), "g"), 64)
	if err != nil || v < 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, badField("mass", s)
	}
	return v, nil
}

func dayOf(f *RackForm, id string) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, f.value(id))
	if err != nil {
		return t, badField("day", f.value(id))
	}
	return t, nil
}
