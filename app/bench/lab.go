package bench

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// library is what the bench asks of an open lab; *atlas.Library is the one there is, tests have another in memory.
type library interface {
	Close() error
	Dir() string
	Mode() atlas.Mode
	AddDonor(d atlas.Donor) error
	SaveDonor(d atlas.Donor) error
	Donor(code string) (atlas.Donor, error)
	Donors() ([]atlas.Donor, error)
	SaveRun(r section.Run) (section.Run, error)
	Runs() ([]section.Run, error)
	TakePhoto(ctx context.Context, f section.Face, donor, name string, r io.Reader, look func(*photo.Image)) (atlas.Plate, error)
	PlaceAll(on map[string]section.Face) error
	Place(id string, f section.Face) (atlas.Plate, error)
	Unplace(id string) (atlas.Plate, error)
	Plate(id string) (atlas.Plate, error)
	Save(p atlas.Plate) (atlas.Plate, error)
	Photo(ctx context.Context, id string) (*photo.Image, error)
	Preview(ctx context.Context, id string) (image.Image, error)
	Find(q atlas.Query) iter.Seq2[atlas.Entry, error]
	AddSeries(ctx context.Context, donor string, files fs.FS, skip func(path string, err error), done func(read, total int)) ([]scan.Series, error)
	SeriesList(donor string) ([]scan.Series, error)
	Volume(ctx context.Context, uid string) (*scan.Volume, error)
	LevelTies(run, series string) (atlas.LevelTies, error)
	SaveLevelTies(t atlas.LevelTies) error
	Stands() ([]atlas.Stand, error)
	SaveStand(s atlas.Stand) error
	RemoveStand(name string) error
	SaveAll(plates ...atlas.Plate) ([]atlas.Plate, error)
}

var _ library = (*atlas.Library)(nil)

// labRoom is the open lab and what lists show of it.
type labRoom struct {
	lists   []termList        // of structures, brought in
	usual   annotate.OneSided // the lab's list of usually one-sided structures
	lib     library
	runs    []section.Run
	donors  map[string]atlas.Donor
	photos  map[string]int // placed photographs by run
	tray    []TrayPhoto
	reading map[string]bool      // previews of the tray being read, by plate
	seen    map[string]TrayPhoto // prints of this sitting, by plate
	series  []scan.Series
	found   survey
}

// CreateLab makes a lab in an empty folder and opens it.
func (b *Bench) CreateLab(dir string) error {
	if err := b.ofLab(); err != nil {
		return err
	}
	lib, err := atlas.Create(dir)
	if err != nil {
		return err
	}
	return b.openLibrary(lib)
}

// OpenLab opens a lab; when it is open elsewhere a message offers reading only.
func (b *Bench) OpenLab(dir string) error {
	if err := b.ofLab(); err != nil {
		return err
	}
	lib, err := atlas.Open(dir, atlas.ReadWrite)
	if errors.Is(err, atlas.ErrLocked) {
		m := Explain(err)
		m.Choices = []Choice{
			{Word("locked.readonly"), func() { b.Report(b.OpenLabReadOnly(dir)) }},
			{Word("locked.leave"), nil},
		}
		b.say(m)
		return nil
	}
	if err != nil {
		return err
	}
	return b.openLibrary(lib)
}

// OpenLabReadOnly opens a lab without the right to change it.
func (b *Bench) OpenLabReadOnly(dir string) error {
	if err := b.ofLab(); err != nil {
		return err
	}
	lib, err := atlas.Open(dir, atlas.ReadOnly)
	if err != nil {
		return err
	}
	return b.openLibrary(lib)
}

// openLibrary puts lib in the place of the lab that was open.
func (b *Bench) openLibrary(lib library) error {
	if err := b.CloseLab(); err != nil {
		return errors.Join(err, lib.Close())
	}
	b.lab = labRoom{lib: lib}
	if err := b.readLab(); err != nil {
		b.lab = labRoom{}
		return errors.Join(err, lib.Close())
	}
	var err error
	if b.terms, err = readOwnTerms(lib.Dir(), b.shipped); err != nil {
		b.Report(err) // the lab opens all the same
	}
	b.readTermLists()
	if b.lab.usual, err = readOneSided(lib.Dir()); err != nil {
		b.Report(err)
	}
	b.remember(lib.Dir())
	b.rack, b.stand = rackRoom{}, standRoom{}
	b.readRack()
	if len(b.lab.runs) > 0 {
		b.ChooseRun(b.lab.runs[0].ID)
	}
	b.enter(RunScreen)
	b.sayOverdue()
	return nil
}

// readLab reads the lists again: runs, donors, counts.
func (b *Bench) readLab() error {
	l := &b.lab
	var err error
	if l.runs, err = l.lib.Runs(); err != nil {
		return err
	}
	donors, err := l.lib.Donors()
	if err != nil {
		return err
	}
	l.donors = map[string]atlas.Donor{}
	for _, d := range donors {
		l.donors[d.Code] = d
	}
	if l.series, err = l.lib.SeriesList(""); err != nil {
		return err
	}
	l.photos = map[string]int{}
	for e, err := range l.lib.Find(atlas.Query{}) {
		if err != nil {
			return err
		}
		if e.Face != (section.Face{}) {
			l.photos[e.Face.Run]++
		}
	}
	return nil
}

// CloseLab saves and goes back to the start page. With an error the lab stays open, so that nothing is lost.
func (b *Bench) CloseLab() error {
	if b.lab.lib == nil {
		return nil
	}
	if err := b.saveAll(); err != nil {
		return err
	}
	for _, j := range b.jobs {
		if j.ofLab {
			j.stop()
		}
	}
	err := b.lab.lib.Close()
	b.dropAhead()
	b.decodes = 0
	b.lab, b.rule, b.doc, b.docs = labRoom{}, runRoom{}, nil, map[string]*faceDoc{}
	b.pair, b.out.slip, b.rack, b.stand = pairRoom{}, nil, rackRoom{}, standRoom{}
	b.take, b.table = intakeRoom{}, tableRoom{}
	b.again = againRoom{}
	b.enter(StartScreen)
	return err
}

// Lab tells about the open lab.
func (b *Bench) Lab() LabInfo {
	if b.lab.lib == nil {
		return LabInfo{}
	}
	return LabInfo{Open: true, ReadOnly: b.readOnly(), Synthetic: b.synthetic(), Dir: b.lab.lib.Dir(),
		Name: filepath.Base(b.lab.lib.Dir()), Runs: len(b.lab.runs), Unplaced: len(b.lab.tray)}
}

func (b *Bench) readOnly() bool { return b.lab.lib == nil || b.lab.lib.Mode() == atlas.ReadOnly }

// synthetic reports whether the chosen run's donor is made up.
func (b *Bench) synthetic() bool { return b.lab.donors[b.Run().Donor].Synthetic }

// writable fails when nothing may be changed.
func (b *Bench) writable() error {
	switch {
	case b.lab.lib == nil:
		return ErrNoLab
	case b.readOnly():
		return atlas.ErrReadOnly
	}
	return nil
}

// MakePractice opens the practice lab, building it first when it is not there yet, as a job.
func (b *Bench) MakePractice() {
	if err := b.ofLab(); err != nil {
		b.Report(err)
		return
	}
	if b.o.DataDir == "" {
		b.Report(fmt.Errorf("%w: no folder for the practice lab", ErrForm))
		return
	}
	dir := filepath.Join(b.o.DataDir, "practice-lab")
	if _, err := os.Stat(filepath.Join(dir, "catalogue.db")); err == nil {
		b.Report(b.OpenLab(dir))
		return
	}
	for _, j := range b.jobs {
		if j.name == Word("job.practice") {
			return // already at it
		}
	}
	was := b.lab.lib
	b.startFree(Word("job.practice"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		if err := buildPractice(ctx, dir, tell); err != nil {
			return nil, err
		}
		return func() {
			if b.lab.lib == was { // else the person has gone elsewhere meanwhile
				b.Report(b.OpenLab(dir))
			}
		}, nil
	})
}

// Recent lists folders of labs opened before, the latest first.
func (b *Bench) Recent() []string {
	if b.o.DataDir == "" {
		return nil
	}
	text, err := os.ReadFile(filepath.Join(b.o.DataDir, "recent.txt"))
	if err != nil {
		return nil
	}
	var out []string
	for dir := range strings.Lines(string(text)) {
		dir = strings.TrimRight(dir, "\r\n")
		if _, err := os.Stat(filepath.Join(dir, "catalogue.db")); err == nil && len(out) < 8 {
			out = append(out, dir)
		}
	}
	return out
}

// remember puts dir at the head of the list. A list that cannot be written is no reason to stop anyone.
func (b *Bench) remember(dir string) {
	if b.o.DataDir == "" {
		return
	}
	list := slices.DeleteFunc(b.Recent(), func(d string) bool { return d == dir })
	list = append([]string{dir}, list...)
	path := filepath.Join(b.o.DataDir, "recent.txt")
	if os.MkdirAll(b.o.DataDir, 0o755) != nil || os.WriteFile(path+".part", []byte(strings.Join(list, "\n")+"\n"), 0o644) != nil {
		return
	}
	_ = os.Rename(path+".part", path)
}

// Agreement is what the donor of the run agreed to.
func (b *Bench) Agreement() atlas.Agreement { return b.lab.donors[b.Run().Donor].Agreement }

// SetAgreement records it.
func (b *Bench) SetAgreement(a atlas.Agreement) error {
	if err := b.writable(); err != nil {
		return err
	}
	d, ok := b.lab.donors[b.Run().Donor]
	if !ok {
		return fmt.Errorf("%w: choose a run first", ErrForm)
	}
	d.Agreement = a
	if err := b.lab.lib.SaveDonor(d); err != nil {
		return err
	}
	b.lab.donors[d.Code] = d
	b.readRack()
	b.changed(LabChanged | PreviewChanged | RackChanged)
	return nil
}
