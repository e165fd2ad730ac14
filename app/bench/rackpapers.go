package bench

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"sectionary/atlas"
	"sectionary/atlas/quiz"
)

// papersName is the folder of the lab where lists, tags and due days are written.
const papersName = "papers"

// writePaper writes a file into the lab's folder for papers, whole or not at all, and says where.
func (b *Bench) writePaper(name string, write func(w io.Writer) error) error {
	if b.lab.lib == nil {
		return ErrNoLab
	}
	dir := filepath.Join(b.lab.lib.Dir(), papersName)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	path := filepath.Join(dir, name)
	out, err := os.CreateTemp(dir, name+".*.part")
	if err != nil {
		return err
	}
	defer os.Remove(out.Name())
	err = write(out)
	if e := out.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(out.Name(), path)
	}
	if err != nil {
		return err
	}
	b.tell(Word("rack.paper", path), false)
	return nil
}

// paperSize is the size that the person hands out on.
func (b *Bench) paperSize() quiz.Paper { return quiz.Paper(b.out.draft.Paper) }

func (b *Bench) dated(name, ending string) string {
	return name + "-" + b.o.Now().Format(time.DateOnly) + ending
}

func printReturnList(b *Bench, _ *RackForm) error {
	donor := b.Run().Donor
	r := b.rack.custody.Reconcile(donor, b.lab.donors[donor].Runs)
	return b.writePaper(b.dated("return-list-"+donor, ".pdf"), func(w io.Writer) error {
		return quiz.WriteReturnList(w, r, b.today(), b.paperSize())
	})
}

func printTags(b *Bench, _ *RackForm) error {
	return b.printTagsOf("tag-"+b.rack.chosen, []string{b.rack.chosen})
}

// printAllTags prints a tag for everything of the donor that is here, and for the containers kept for it.
func printAllTags(b *Bench, _ *RackForm) error {
	c, donor := b.rack.custody, b.Run().Donor
	var codes []string
	for _, p := range c.Pieces(donor) {
		if p.Here() {
			codes = append(codes, p.Code)
		}
	}
	for _, h := range c.Holders() {
		if h.Donor == donor || h.Kind == atlas.ShelfKind {
			codes = append(codes, h.Code)
		}
	}
	if len(codes) == 0 {
		return fmt.Errorf("%w: %s", ErrForm, Word("rack.empty"))
	}
	return b.printTagsOf(b.dated("tags", ""), codes)
}

func (b *Bench) printTagsOf(name string, codes []string) error {
	tags, err := quiz.MakeTags(b.rack.custody, b.lab.runs, codes)
	if err != nil {
		return err
	}
	return b.writePaper(name+".pdf", func(w io.Writer) error { return quiz.WriteTags(w, tags, b.paperSize()) })
}

func printHistory(b *Bench, _ *RackForm) error {
	code := b.rack.chosen
	return b.writePaper(b.dated("history-"+code, ".pdf"), func(w io.Writer) error {
		return quiz.WriteHistory(w, b.rack.custody, code, b.today(), b.paperSize())
	})
}

func writeCalendar(b *Bench, _ *RackForm) error {
	lib := b.keeper()
	if lib == nil {
		return ErrNoLab
	}
	return b.writePaper("due-days.ics", func(w io.Writer) error {
		return lib.WriteCalendar(context.Background(), w, b.o.Now())
	})
}

// doCount compares codes scanned in all containers with what should be here.
func doCount(b *Bench, f *RackForm) error {
	c := b.rack.custody
	var codes []string
	for _, typed := range strings.Fields(f.value("codes")) {
		code, err := c.Find(typed)
		if err != nil {
			return err
		}
		codes = append(codes, code)
	}
	found := c.Count(b.Run().Donor, codes)
	lines := []string{count("rack.counted", len(codes))}
	for _, p := range found.Missing {
		lines = append(lines, Word("rack.notfound", p.Name, p.Code, c.Whereabouts(p)))
	}
	for _, s := range found.Strange {
		lines = append(lines, upperFirst(s.Words)+".")
	}
	if len(lines) == 1 {
		lines = append(lines, Word("rack.allfound"))
	}
	b.tell(strings.Join(lines, "\n"), len(found.Missing)+len(found.Strange) > 0)
	return nil
}

func extendFields(b *Bench) []RackField {
	a := b.Agreement()
	ends := ""
	if !a.Ends.IsZero() {
		ends = a.Ends.Format(time.DateOnly)
	}
	after := strings.Split(Word("field.after.options"), "\n")
	f := RackField{ID: "after", Caption: Word("field.after"), Options: after, Value: after[0]}
	for i, x := range afterChoices {
		if x == a.AfterReturn {
			f.Value = after[i]
		}
	}
	return []RackField{text("reference", a.Reference)(b), text("ends", ends)(b), f, who(b)}
}

var afterChoices = []atlas.AfterReturn{atlas.NotRecorded, atlas.KeepPictures, atlas.WithdrawPictures}

// doExtend changes the day by which everything goes back; a later one needs a new reference.
func doExtend(b *Bench, f *RackForm) error {
	if err := b.writable(); err != nil {
		return err
	}
	lib, d := b.keeper(), b.lab.donors[b.Run().Donor]
	if lib == nil {
		return ErrNoLab
	}
	ends, err := dayOf(f, "ends")
	if err != nil {
		return err
	}
	d.Agreement.Ends, d.Agreement.Reference = ends, f.value("reference")
	d.Agreement.AfterReturn = afterChoices[max(0, f.option("after"))]
	if err := lib.Agree(f.value("who"), d); err != nil {
		return err
	}
	if err := b.readLab(); err != nil {
		return err
	}
	b.readRack()
	words, _ := b.DueWords()
	b.tell(words, false)
	return nil
}

func rulesFields(b *Bench) []RackField {
	k, days := b.rack.rules, [3]string{}
	for i, n := range k.LookDays {
		if n > 0 {
			days[i] = strconv.Itoa(n)
		}
	}
	codes := strings.Split(Word("field.codesout.options"), "\n")
	out := RackField{ID: "codesout", Caption: Word("field.codesout"), Options: codes, Value: codes[0]}
	if k.CalendarCodes {
		out.Value = codes[1]
	}
	return []RackField{text("days.wetting", days[0])(b), text("days.wrap", days[1])(b), text("days.mould", days[2])(b),
		text("card", k.Card)(b), text("rule", k.Rule)(b), out}
}

// doRules sets the lab's intervals, its rule and what it adds to the cautions.
func doRules(b *Bench, f *RackForm) error {
	lib := b.keeper()
	if lib == nil {
		return ErrNoLab
	}
	r := atlas.CustodyRules{Card: f.value("card"), Rule: f.value("rule"), CalendarCodes: f.option("codesout") == 1}
	for i, id := range []string{"days.wetting", "days.wrap", "days.mould"} {
		if s := f.value(id); s != "" {
			n, err := strconv.Atoi(s)
			if err != nil {
				return badField("days", s)
			}
			r.LookDays[i] = n
		}
	}
	if err := lib.SetCustodyRules(r); err != nil {
		return err
	}
	b.readRack()
	b.tell(Word("rack.rules.set"), false)
	return nil
}
