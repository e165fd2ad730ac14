package quiz

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/drill"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

const (
	packSide    = 1600 // px, the longer side of a picture
	packQuality = 90   // of JPEG
	faceCode    = 10   // letters
)

// PackRequest is a study pack that a lab wishes for.
type PackRequest struct {
	Purpose atlas.Purpose // "" is teaching
	Plates  []string      // plate IDs
	Title   string
	View    section.View
	// Labels chosen, label IDs by plate; a plate without an entry takes all that may be.
	Labels map[string][]string
	// Unsigned is the lab's word that labels no second person has signed may go in.
	Unsigned bool
	NoCuts   bool         // leaves scan cuts out
	Window   *scan.Window // of the scan cuts, nil: the scan's own
	Asks     []drill.Ask  // kinds of question, all when empty
	NoTags   bool         // as in Request
	Words    []string     // as in Request
	Respect  string       // as in Request
}

// request is the slip of the hand-out desk that a pack amounts to.
func (r PackRequest) request() Request {
	if r.Purpose == "" {
		r.Purpose = atlas.Teaching
	}
	return Request{Purpose: r.Purpose, Plates: r.Plates, Kind: Study, Title: r.Title, View: r.View, Labels: r.Labels, NoTags: r.NoTags,
		SignedOnly: !r.Unsigned, Words: r.Words, Respect: r.Respect}
}

// MakePack makes a study pack, one file in outDir. As with HandOut, a refusal is no error: the slip says why; what left and
// what was refused stands in the library's record; and the file appears only after it was searched and found clean. done (may be
// nil) hears how far it has come.
func MakePack(ctx context.Context, lib *atlas.Library, terms *annotate.Terms, r PackRequest, outDir string, done func(done, total int)) (Slip, error) {
	if lib.Mode() == atlas.ReadOnly {
		return Slip{}, atlas.ErrReadOnly
	}
	if done == nil {
		done = func(int, int) {}
	}
	k := &packer{job: newJob(lib, terms, r.request()), want: r, pictures: map[string][]byte{}, runs: map[string]int{}, terms: map[annotate.TermID]bool{}}
	err := k.pack(ctx, outDir, done)
	if reason := k.reason(err); reason != "" {
		k.slip.Reason = reason
		return k.slip, k.record(false)
	}
	return k.slip, err
}

// packer is one study pack being made.
type packer struct {
	*job
	want     PackRequest
	m        drill.Manifest
	pictures map[string][]byte
	runs     map[string]int // index in m, by the lab's id
	terms    map[annotate.TermID]bool
	laid     []laid
	scans    lastScan
	shown    []atlas.Shown
}

// laid is what is kept of a face once its picture is packed.
type laid struct {
	plate atlas.Plate
	marks []mark
}

func (k *packer) pack(ctx context.Context, outDir string, done func(done, total int)) error {
	plates, err := k.admit()
	if err != nil {
		return err
	}
	k.head()
	var refused error
	for i, p := range plates {
		done(i, len(plates))
		if err := ctx.Err(); err != nil {
			return err
		}
		switch err := k.face(ctx, p); {
		case errors.Is(err, ErrRefused):
			k.slip.LeftOut = append(k.slip.LeftOut, LeftOut{Plate: p.ID, Name: p.Face.Name(), Reason: Sentence(err)})
			refused = err
		case err != nil:
			return err
		}
	}
	if len(k.m.Faces) == 0 {
		return refused
	}
	k.below()
	k.levels()
	if k.job.terms != nil {
		for _, t := range k.job.terms.All() {
			if k.terms[t.ID] {
				k.m.Terms = append(k.m.Terms, t)
			}
		}
	}
	if answer := k.cue(); answer != "" {
		return refusal("The title gives an answer away: " + answer + ". Change the title.")
	}
	if err := k.m.Check(); err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	err = k.send(ctx, outDir, []draft{{"study-" + k.slip.Code + ".zip", "study pack", k.write}}, k.shown)
	if err == nil {
		done(len(plates), len(plates))
	}
	return err
}

// cue is an answer that the title gives away, "" when none.
func (k *packer) cue() string {
	for _, t := range k.m.Terms {
		for _, name := range append([]string{t.Name, t.Latin}, t.Synonyms...) {
			if name != "" && hasWords(k.m.Title, name) {
				return name
			}
		}
	}
	return ""
}

// head fills in what a manifest says of the whole: it ends with the first of the agreements.
func (k *packer) head() {
	respect := k.r.Respect
	if respect == "" {
		respect = Respect
	}
	k.m = drill.Manifest{Format: drill.Format, Version: drill.Version, Code: k.slip.Code, Title: k.r.Title, Statement: NotForDiagnosis, Respect: respect,
		Made: k.today.Format(drill.Day), Units: drill.PackUnits, Asks: k.want.Asks, Files: map[string]string{}}
	for _, d := range k.donors {
		if ends := d.Agreement.Ends; !ends.IsZero() && d.Agreement.Returned.IsZero() {
			if day := ends.Format(drill.Day); k.m.Expires == "" || day < k.m.Expires {
				k.m.Expires = day
			}
		}
	}
}

// bare is a face without its marks: one without names is still asked after on the run.
func (k *packer) bare(ctx context.Context, p atlas.Plate) (*sheet, error) {
	if err := showable(p, k.r.NoTags); err != nil {
		return nil, err
	}
	run, err := k.lib.Run(p.Face.Run)
	if err != nil {
		return nil, err
	}
	m, err := k.lib.Photo(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	f, err := newFaceView(p, m, k.r.View)
	return &sheet{face: f, run: run}, err
}

// face packs one face: its picture, what is named on it, and its scan cut.
func (k *packer) face(ctx context.Context, p atlas.Plate) error {
	s, err := k.bare(ctx, p)
	if err != nil {
		return err
	}
	s.marks = k.choose(p)
	run, err := k.run(p.Face.Run)
	if err != nil {
		return err
	}
	depth, _, err := s.run.Depth(p.Face)
	if err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	sum := sha256.Sum256([]byte("study pack face " + p.ID + p.Photo.SHA256.String()))
	f := drill.Face{Code: atlas.CodeOf(sum[:], faceCode), Run: k.m.Runs[run].Code, Slab: p.Face.Slab, Facing: p.Face.Facing, Depth: mm6(depth), View: k.r.View.String(),
		Edges: p.Edges(k.r.View), Structures: []drill.Structure{}, Corrected: s.face.corrected(), Synthetic: s.practiceMaterial(k.donors)}
	k.m.Synthetic = k.m.Synthetic || f.Synthetic
	g := s.face.packed()
	f.Width, f.Height = g.w, g.h
	if s.face.scaled {
		f.PerPixel = 1 / g.per
	}
	f.Picture = "faces/" + f.Code + ".jpg"
	if err := k.keep(f.Picture, s.face.render(g.w, g.h)); err != nil {
		return err
	}
	for i, m := range s.marks {
		f.Structures = append(f.Structures, g.structure(fmt.Sprintf("S%d", i+1), m, f.PerPixel))
		k.terms[m.label.Term] = true
		k.note(string(FacePicture), p.ID, "", m)
	}
	if err := k.cut(ctx, &f, p, g, s.marks); err != nil {
		return err
	}
	k.m.Faces = append(k.m.Faces, f)
	k.laid = append(k.laid, laid{p, s.marks})
	return nil
}

// note puts a line into the record of what pictures showed.
func (k *packer) note(kind, plate, series string, m mark) {
	k.shown = append(k.shown, atlas.Shown{Out: k.slip.Code, At: k.today, Kind: kind, Plate: plate, Series: series, Label: m.label.ID, Term: m.label.Term, Side: m.label.Side})
}

// run is a run's ruler under a neutral code, the run's place in the manifest.
func (k *packer) run(id string) (int, error) {
	if i, ok := k.runs[id]; ok {
		return i, nil
	}
	run, err := k.lib.Run(id)
	if err != nil {
		return 0, err
	}
	i := len(k.m.Runs)
	r := drill.Run{Code: fmt.Sprintf("R%d", i+1), Plane: run.Plane, First: run.First, Limb: run.Limb, Half: run.Half, Extent: run.Extent()}
	for at, s := range run.Places() {
		r.Slabs = append(r.Slabs, drill.Slab{Number: s.Number, Top: mm6(at), Bottom: mm6(at + s.Mean())})
	}
	k.runs[id] = i
	k.m.Runs = append(k.m.Runs, r)
	return i, nil
}

// runOf is the run of a packed face.
func (k *packer) runOf(f drill.Face) *drill.Run {
	return &k.m.Runs[slices.IndexFunc(k.m.Runs, func(r drill.Run) bool { return r.Code == f.Run })]
}

// below finds for every structure what lies at its tip's place one slab further, where both faces are laid in one scan.
func (k *packer) below() {
	for i := range k.m.Faces {
		f := &k.m.Faces[i]
		for j, g := range k.m.Faces {
			if g.Run != f.Run || g.Slab != f.Slab+1 || g.Facing != f.Facing {
				continue
			}
			for n := range f.Structures {
				if c := under(k.laid[i], k.laid[j], k.laid[i].marks[n].deep); c >= 0 {
					f.Structures[n].Below = g.Structures[c].Code
				}
			}
		}
	}
}

// under is the index of the smallest label of b at the place of a pixel of a, -1 when none or not known.
func under(a, b laid, q geom.Px) int {
	ra, rb := a.plate.Registration, b.plate.Registration
	if ra == nil || rb == nil || ra.Series != rb.Series || ra.Method == register.ByLevel || rb.Method == register.ByLevel {
		return -1
	}
	ma, _ := a.plate.FaceMM()
	mb, _ := b.plate.FaceMM()
	at, _ := rb.Find(ra.At(ma.MM(q)))
	place := mb.Px(at)
	best := -1
	for i, m := range b.marks {
		if m.label.Contains(place) && (best < 0 || m.label.AreaPx() < b.marks[best].label.AreaPx()) {
			best = i
		}
	}
	return best
}

// levels reads vertebrae off the faces across the body and gives every face of such a run its own.
func (k *packer) levels() {
	for i, f := range k.m.Faces {
		r := k.runOf(f)
		if r.Plane != section.Transverse {
			continue
		}
		seen := map[string]bool{}
		for _, m := range k.laid[i].marks {
			if v := drill.VertebraOf(m.term); v != "" && !seen[v] {
				seen[v] = true
				r.Marks = append(r.Marks, drill.Mark{Vertebra: v, Depth: f.Depth})
			}
		}
	}
	for i := range k.m.Faces {
		f := &k.m.Faces[i]
		f.Vertebra = k.runOf(*f).VertebraAt(f.Depth)
	}
}
