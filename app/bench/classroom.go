package bench

import (
	"fmt"
	"os"
	"path/filepath"

	"sectionary/atlas/drill"
)

// HandOverResults writes this person's own results in the open pack into dir: for a teacher, and only when the person
// does it. They hold no name, no day and no machine.
func (b *Bench) HandOverResults(dir string) error {
	s := &b.study
	if !s.open() {
		return fmt.Errorf("%w: %s", ErrForm, Word("drill.nopack"))
	}
	var f *os.File
	var err error
	for n := 1; n < 1000; n++ { // never over another student's
		f, err = os.OpenFile(filepath.Join(dir, fmt.Sprintf("drill-results-%s-%d.json", s.pack.Code, n)), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
		if err == nil || !os.IsExist(err) {
			break
		}
	}
	if err != nil {
		return fmt.Errorf("bench: results: %w", err)
	}
	err = s.pack.Results(s.progress).Write(f)
	if shut := f.Close(); err == nil {
		err = shut
	}
	if err != nil {
		return err
	}
	b.say(Message{Title: Word("results.out"), Hint: Word("results.out.hint", f.Name())})
	return nil
}

// ReadClass reads the results that students handed over: how the class placed each face on the run is shown from then
// on, beside the face and after a question about it.
func (b *Bench) ReadClass(paths []string) error {
	s := &b.study
	if !s.open() {
		return fmt.Errorf("%w: %s", ErrForm, Word("drill.nopack"))
	}
	var all []drill.Results
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			return fmt.Errorf("bench: results: %w", err)
		}
		r, err := drill.ReadResults(f)
		f.Close()
		if err != nil {
			return fmt.Errorf("bench: %s: %w", filepath.Base(path), err)
		}
		if r.Pack != s.pack.Code {
			return fmt.Errorf("%w: %s: %s", ErrForm, filepath.Base(path), Word("results.other"))
		}
		all = append(all, r)
	}
	s.class = map[string]drill.Spread{}
	for _, x := range drill.ClassSpread(all) {
		s.class[x.Face] = x
	}
	b.say(Message{Title: count("results.read", len(all)), Hint: count("results.read.hint", len(s.class))})
	b.changed(ExamChanged)
	return nil
}

// spreadWords says how the class placed a face on the run, "" when nothing was read.
func (b *Bench) spreadWords(face string) string {
	x, ok := b.study.class[face]
	if !ok {
		return ""
	}
	words := count("spread.words", x.Students, x.MM[2], x.MM[1], x.MM[3], x.MM[0], x.MM[4])
	if x.HasSteps {
		words += " " + Word("spread.steps", x.Steps[2], x.Steps[1], x.Steps[3])
	}
	return words
}
