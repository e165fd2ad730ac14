package bench

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
)

// SetSigner sets who signs as the second person.
func (b *Bench) SetSigner(name string) {
	b.draw.signer = strings.Join(strings.Fields(name), " ")
	b.changed(SelectionChanged)
}

// Signer is who signs as the second person.
func (b *Bench) Signer() string { return b.draw.signer }

// SignChosen signs the chosen label as the second person. Its author cannot (annotate.ErrSamePerson), and a label that
// lacks anything, or that is to be discussed, cannot be signed (annotate.ErrNotReady).
func (b *Bench) SignChosen() error {
	_, x, err := b.chosenLabel()
	if err != nil {
		return err
	}
	if b.draw.signer == "" {
		return fmt.Errorf("%w: %s", ErrForm, Word("sign.who"))
	}
	if strings.EqualFold(b.draw.signer, strings.TrimSpace(x.Author)) {
		return annotate.ErrSamePerson
	}
	if x.Sure == annotate.Discuss {
		return fmt.Errorf("%w: %s", annotate.ErrNotReady, Word("sign.discuss"))
	}
	by := annotate.Stamp{Author: b.draw.signer, At: b.o.Now()}
	return b.editLabels(Word("step.sign"), "", func(l annotate.Labels) (annotate.Labels, error) { return l.Sign(x.ID, by) })
}

// SetNote writes the note of the chosen label. Writing on is one step.
func (b *Bench) SetNote(text string) error {
	_, x, err := b.chosenLabel()
	if err != nil || x.Note == text {
		return err
	}
	return b.editLabels(Word("step.note"), "note "+x.ID, func(l annotate.Labels) (annotate.Labels, error) {
		return l.Annotate(x.ID, b.stamp(), text)
	})
}

// ChosenCard is what the panel shows of the chosen label; ok is false when none is chosen.
type ChosenCard struct {
	Note, By string // By: author, date and signature, in words
	Signed   bool
	Discuss  bool
	History  []string // the latest first
}

// Card tells about the chosen label.
func (b *Bench) Card() (c ChosenCard, ok bool) {
	p, x, err := b.chosenLabel()
	if err != nil {
		return c, false
	}
	c = ChosenCard{Note: x.Note, Signed: x.Signed != nil, Discuss: x.Sure == annotate.Discuss,
		By: Word("card.by", x.Author, x.Changed.Format("2 January 2006"))}
	if x.Signed != nil {
		c.By += " " + Word("card.signed", x.Signed.By, x.Signed.At.Format("2 January 2006"))
	}
	for _, h := range slices.Backward(p.History) {
		if h.Label == x.ID {
			c.History = append(c.History, historyLine(h, ""))
		}
	}
	return c, true
}

// FaceHistory is what was done to the labels of the face, the latest first.
func (b *Bench) FaceHistory() []string {
	p, ok := b.Plate()
	if !ok {
		return nil
	}
	var out []string
	for _, h := range slices.Backward(p.History) {
		name := Word("label.unnamed")
		if x, there := p.Labels.Find(h.Label); !there {
			name = Word("history.gone")
		} else if t, ok := b.term(x.Term); ok {
			name = t.Name
		}
		out = append(out, historyLine(h, name+": "))
	}
	return out
}

func historyLine(h annotate.Change, before string) string {
	what := make([]string, len(h.What))
	for i, w := range h.What {
		what[i] = Word("history." + w)
	}
	return Word("history.line", h.At.Format("2006-01-02 15:04"), before+strings.Join(what, ", "), h.By)
}

// mostHistory bounds the history of one face; the oldest lines go first.
const mostHistory = 20_000

// noted is next with what was done to its labels added to the history. Steps of one hold are one line.
func noted(old, next atlas.Plate, by annotate.Stamp) atlas.Plate {
	lines := slices.Clip(next.History)
	for _, c := range annotate.Changes(old.Labels, next.Labels, by) {
		if n := len(lines); n > 0 && lines[n-1].Label == c.Label && lines[n-1].By == c.By && slices.Equal(lines[n-1].What, c.What) &&
			c.At.Sub(lines[n-1].At).Minutes() < 1 {
			lines = append(slices.Clone(lines[:n-1]), c)
			continue
		}
		lines = append(lines, c)
	}
	if n := len(lines) - mostHistory; n > 0 {
		lines = lines[n:]
	}
	next.History = lines
	return next
}

// oneSidedName is the file, beside the lab's catalogue, by which a lab has a list of its own of usually one-sided structures.
const oneSidedName = "one-sided.tsv"

// readOneSided is the lab's own list of usually one-sided structures, else the shipped one.
func readOneSided(dir string) (annotate.OneSided, error) {
	shipped, err := annotate.LoadOneSided(assets.OneSided())
	if err != nil {
		return nil, err
	}
	f, err := os.Open(filepath.Join(dir, oneSidedName))
	if errors.Is(err, fs.ErrNotExist) {
		return shipped, nil
	}
	if err != nil {
		return shipped, fmt.Errorf("bench: %w", err)
	}
	defer f.Close()
	own, err := annotate.LoadOneSided(f)
	if err != nil {
		return shipped, fmt.Errorf("bench: %s: %w", oneSidedName, err)
	}
	return own, nil
}
