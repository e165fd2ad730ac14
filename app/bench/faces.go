package bench

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// runRoom is the chosen run, its history and what is known of its faces.
type runRoom struct {
	hist  *History[laid]
	face  section.Face
	facts map[section.Face]fact

	unlike unlikeRoom
	checks map[string]photo.Check // what was seen on pictures of this sitting, by plate
}

// laid is what can be taken back on the ruler: the slabs, and which photograph lies on which face.
type laid struct {
	run   section.Run
	faces map[string]section.Face // by plate
}

// with returns v brought up to date with photographs that came or went without a step on the ruler, so that taking back
// an older step leaves them where they are: was is what the present step held, is what lies there now.
func (v laid) with(was, is map[string]section.Face) laid {
	taken := map[section.Face]bool{}
	for _, f := range v.faces {
		taken[f] = true
	}
	faces := maps.Clone(v.faces)
	for id, f := range is {
		if _, known := was[id]; !known && !taken[f] {
			faces[id] = f
		}
	}
	for id := range was {
		if _, there := is[id]; !there {
			delete(faces, id)
		}
	}
	v.faces = faces
	return v
}

// fact is what the ruler shows of a photographed face, read from its plate at Rev.
type fact struct {
	plate                  string
	rev                    int
	scale, letters, paired bool
	masked                 bool // a tag is covered
	labels, again          int
	drawn                  []structure // what a person outlined or kept
}

func factOf(p atlas.Plate) fact {
	return fact{plate: p.ID, rev: p.Rev, scale: p.Calibration.Status != photo.Nominal, letters: lettersKnown(p), masked: len(p.Mask) > 0,
		paired: p.Registration != nil && laidTruly(p.Registration, p.Face), labels: p.Labels.Len(),
		again: len(p.LookAgain()), drawn: drawnOn(p)}
}

// structure is a term with its side.
type structure struct {
	term annotate.TermID
	side annotate.Side
}

// drawnOn are the structures outlined on a plate, once each, without those carried there and not checked.
func drawnOn(p atlas.Plate) (out []structure) {
	for x := range p.Labels.All() {
		if s := (structure{x.Term, x.Side}); !x.Carried && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// lettersKnown reports whether sides and top of the face are declared.
func lettersKnown(p atlas.Plate) bool { return !p.LettersUnknown() }

// BeginRun adds a run, making the lab and the donor when they are not there.
func (b *Bench) BeginRun(n NewRun) error {
	n.Donor, n.Part = strings.TrimSpace(n.Donor), strings.TrimSpace(n.Part)
	switch {
	case n.Donor == "":
		return fmt.Errorf("%w: %s", ErrForm, Word("begin.donor"))
	case n.Part == "":
		return fmt.Errorf("%w: %s", ErrForm, Word("begin.part"))
	case !(n.Thickness > 0 && n.Thickness < 500) || !(n.Kerf >= 0 && n.Kerf < 50):
		return fmt.Errorf("%w: %s", ErrForm, Word("begin.lengths"))
	case n.Slabs < 0 || n.Slabs > 500:
		return fmt.Errorf("%w: %s", ErrForm, Word("begin.slabs"))
	}
	names, limb := section.NamesLimb(n.Part)
	if n.Limb == section.NoLimb {
		n.Limb = limb
	}
	if names && n.Limb == section.NoLimb {
		return fmt.Errorf("%w: %s", ErrForm, Word("begin.limb", n.Part))
	}
	r := section.Run{Donor: n.Donor, Part: n.Part, Limb: n.Limb, Half: n.Half, Plane: n.Plane, First: n.First}
	for i := range n.Slabs {
		r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{n.Thickness}, Kerf: n.Kerf, Planned: true})
	}
	if err := r.Check(); err != nil {
		return err
	}
	if b.lab.lib == nil {
		if n.Dir == "" {
			return fmt.Errorf("%w: %s", ErrForm, Word("begin.dir"))
		}
		if err := b.CreateLab(n.Dir); err != nil {
			return err
		}
	}
	if err := b.writable(); err != nil {
		return err
	}
	if _, known := b.lab.donors[n.Donor]; !known {
		d := atlas.Donor{Code: n.Donor, Agreement: atlas.Agreement{Permitted: map[atlas.Purpose]bool{}}}
		for _, p := range n.Permitted {
			d.Agreement.Permitted[p] = true
		}
		if err := b.lab.lib.AddDonor(d); err != nil {
			return err
		}
	}
	kept, err := b.lab.lib.SaveRun(r)
	if err != nil {
		return err
	}
	if err := b.readLab(); err != nil {
		return err
	}
	b.ChooseRun(kept.ID)
	b.enter(RunScreen)
	return nil
}

// Runs lists the runs of the lab.
func (b *Bench) Runs() []RunInfo {
	var out []RunInfo
	for _, r := range b.lab.runs {
		n := b.lab.photos[r.ID]
		out = append(out, RunInfo{ID: r.ID, Donor: r.Donor, Part: r.Part, Plane: r.Plane, Slabs: len(r.Slabs), Photos: n,
			Synthetic: b.lab.donors[r.Donor].Synthetic,
			Words:     Word("run.line", r.Donor, Word("plane."+r.Plane.String()), r.PartWords(), count("slabs", len(r.Slabs)), count("photographs", n))})
	}
	return out
}

// ChooseRun opens a run on the ruler.
func (b *Bench) ChooseRun(id string) {
	i := slices.IndexFunc(b.lab.runs, func(r section.Run) bool { return r.ID == id })
	if i < 0 {
		return
	}
	b.saveNow()
	b.dropDrafts()
	b.rule = runRoom{facts: map[section.Face]fact{}}
	b.doc, b.draw.chosen = nil, ""
	b.dropAhead()
	b.pair, b.again = pairRoom{}, againRoom{}
	b.out.draft.Faces = nil
	b.rule.hist = NewHistory(laid{b.lab.runs[i], map[string]section.Face{}})
	b.readFaces()
	b.chooseFirstSeries()
	if b.o.OnPicture {
		b.chooseFirstFace()
	}
	b.changed(Everything)
}

// chooseFirstFace takes up the first photographed face, so that a run opens on a picture.
func (b *Bench) chooseFirstFace() {
	for _, f := range b.Run().Faces() {
		if b.Info(f).Photo {
			b.ChooseFace(f)
			return
		}
	}
}

// readFaces lists the photographs of the run and of the tray, and reads the plates of faces not known yet as a job.
func (b *Bench) readFaces() {
	run := b.Run()
	now := b.rule.hist.Now()
	faces, tray := map[string]section.Face{}, []TrayPhoto{}
	var unread []string
	for e, err := range b.lab.lib.Find(atlas.Query{Donor: run.Donor}) {
		if err != nil {
			b.Report(err)
			return
		}
		switch {
		case e.Face == (section.Face{}):
			tray = append(tray, b.trayPhoto(e, len(tray)))
		case e.Face.Run == run.ID:
			faces[e.Plate] = e.Face
			if f, ok := b.rule.facts[e.Face]; !ok || f.plate != e.Plate || f.rev < e.Rev {
				b.rule.facts[e.Face] = fact{plate: e.Plate, labels: len(e.Labels), again: e.Again}
				unread = append(unread, e.Plate)
			}
		}
	}
	for f, x := range b.rule.facts {
		if faces[x.plate] != f { // taken off, or laid on another
			delete(b.rule.facts, f)
		}
	}
	b.rule.hist.Each(func(v laid) laid { return v.with(now.faces, faces) })
	b.lab.photos[run.ID] = len(faces)
	b.setTray(tray)
	b.readFacts(run.ID, unread)
	if len(unread) == 0 {
		b.wantUnlike()
	}
}

// readFacts reads plates away from the event loop. What came to be known meanwhile is not put back.
func (b *Bench) readFacts(run string, ids []string) {
	if len(ids) == 0 {
		return
	}
	lib := b.lab.lib
	b.start(Word("job.facts"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var got []atlas.Plate
		for i, id := range ids {
			if ctx.Err() != nil {
				break
			}
			if p, err := lib.Plate(id); err == nil {
				got = append(got, p)
			}
			tell(i+1, len(ids))
		}
		return func() {
			if b.Run().ID != run {
				return
			}
			for _, p := range got {
				if old := b.rule.facts[p.Face]; old.plate == p.ID && old.rev <= p.Rev {
					b.rule.facts[p.Face] = factOf(p)
				}
			}
			b.wantUnlike()
			b.changed(RunChanged)
		}, nil
	})
}

// Run is the chosen run, the zero Run when none.
func (b *Bench) Run() section.Run {
	if b.rule.hist == nil {
		return section.Run{}
	}
	return b.rule.hist.Now().run
}

// Face is the chosen face, the zero Face when none.
func (b *Bench) Face() section.Face { return b.rule.face }

// ChooseFace chooses a face of the run. Asking for the chosen one again does nothing.
func (b *Bench) ChooseFace(f section.Face) {
	if f == b.rule.face || b.Run().ID == "" {
		return
	}
	if f != (section.Face{}) {
		if _, _, err := b.Run().Depth(f); err != nil {
			b.Report(err)
			return
		}
	}
	b.saveNow()
	b.dropDrafts()
	b.walked(b.rule.face, f)
	b.rule.face = f
	b.draw.chosen = ""
	b.pair.step = 0
	b.openDoc()
	b.changed(RunChanged | PlateChanged | ViewChanged | SelectionChanged | ScanChanged | SavedChanged)
}

// Step goes n faces along the run, stopping at its ends.
func (b *Bench) Step(n int) {
	all := b.Run().Faces()
	if len(all) == 0 {
		return
	}
	i := slices.Index(all, b.rule.face)
	switch {
	case i < 0 && n < 0:
		i = len(all) - 1
	case i < 0:
		i = 0
	default:
		i = min(max(i+n, 0), len(all)-1)
	}
	b.ChooseFace(all[i])
}

// StepSlab goes n slabs along the run to the same kind of face.
func (b *Bench) StepSlab(n int) {
	if b.rule.face == (section.Face{}) {
		b.Step(n)
		return
	}
	slabs := b.Run().Slabs
	i := slices.IndexFunc(slabs, func(s section.Slab) bool { return s.Number == b.rule.face.Slab })
	if i < 0 {
		return
	}
	f := b.rule.face
	f.Slab = slabs[min(max(i+n, 0), len(slabs)-1)].Number
	b.ChooseFace(f)
}

// Across goes to the partner face, on the other side of the same cut.
func (b *Bench) Across() {
	if f, ok := b.Run().Partner(b.rule.face); ok {
		b.ChooseFace(f)
	} else if b.rule.face != (section.Face{}) {
		b.hint(Word("face.nopartner"), false)
	}
}

// OtherFace goes to the other face of the same slab.
func (b *Bench) OtherFace() {
	if f := b.rule.face; f != (section.Face{}) {
		f.Facing = f.Facing.Opposite()
		b.ChooseFace(f)
	}
}

// Info tells about any face of the run.
func (b *Bench) Info(f section.Face) FaceInfo {
	depth, se, err := b.Run().Depth(f)
	if err != nil {
		return FaceInfo{}
	}
	x, there := b.rule.facts[f]
	i := FaceInfo{Name: upperFirst(b.FaceName(f)), Depth: depth, SE: se, PlateID: x.plate, Photo: there, Scale: x.scale,
		Letters: x.letters, Paired: x.paired, Labels: x.labels}
	if !there {
		i.Words = Word("face.empty", i.Name)
		return i
	}
	parts := []string{Word("face.photo")}
	add := func(yes bool, has, lacks string) {
		if yes {
			parts = append(parts, has)
		} else if lacks != "" {
			parts = append(parts, lacks)
		}
	}
	add(x.scale, Word("face.scale"), Word("face.noscale"))
	add(x.letters, Word("face.letters"), Word("face.noletters"))
	add(x.labels > 0, count("face.names", x.labels), "")
	add(x.paired, Word("face.paired"), "")
	if u, odd := b.unlikeAt(f); odd {
		i.Unlike = unlikeWords(u)
	}
	add(x.again > 0, count("face.again", x.again), "")
	i.Words = Word("face.line", i.Name, depth, strings.Join(parts, ", "))
	return i
}
