package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// SpineCounts are a donor's own counts; 0 where nobody counted.
type SpineCounts struct {
	RibPairs, Lumbar int
	Transitional     bool
}

// Countings are the ways the number of a vertebra can have been found, the last of them: nobody said.
var Countings = []register.Counting{register.FromC2, register.FromSacrum, register.ByRibs, register.BySurface, register.CountingUnset}

// VertebraRow is one vertebra marked on the scan.
type VertebraRow struct {
	Name, Words string
}

// spineNow is the column as marked on the chosen series.
func (b *Bench) spineNow() register.Spine {
	if s := b.pair.tied.Spine; s != nil {
		return *s
	}
	return register.Spine{}
}

// saveSpine keeps a column whose marks can all hold.
func (b *Bench) saveSpine(s register.Spine) error {
	if err := b.writable(); err != nil {
		return err
	}
	if b.pair.series == "" {
		return fmt.Errorf("%w: %s", ErrForm, Word("pair.noscan"))
	}
	if _, err := s.Lines(); err != nil {
		return fmt.Errorf("%w: %w", ErrForm, err)
	}
	t := b.pair.tied
	t.Spine = &s
	if err := b.lab.lib.SaveLevelTies(t); err != nil {
		return err
	}
	b.pair.tied = t
	b.changed(ScanChanged | RunChanged)
	return nil
}

// MarkVertebra marks the centre of a vertebral body where the last click on the scan was, else at the middle of the cut shown, and how it
// was counted: one of Countings.
func (b *Bench) MarkVertebra(name string, counted int) error {
	if counted < 0 || counted >= len(Countings) {
		counted = len(Countings) - 1
	}
	z := math.NaN()
	if h := b.pair.half.scan; h != nil {
		z = h.Z
	} else if pose, _, ok := b.cutPose(); ok && b.Run().Plane == section.Transverse {
		p, _ := b.Plate()
		middle := geom.MM{}
		if m, scaled := faceMM(p); scaled {
			middle = m.MM(p.MiddlePx())
		}
		z = pose.At(middle).Z
	}
	if math.IsNaN(z) {
		return fmt.Errorf("%w: %s", ErrForm, Word("spine.click"))
	}
	s := b.spineNow()
	s.Marks = append(slices.DeleteFunc(slices.Clone(s.Marks), func(v register.Vertebra) bool { return v.Name == name }), register.Vertebra{Name: name, Scan: z, Counted: Countings[counted]})
	if err := b.saveSpine(s); err != nil {
		return err
	}
	b.pair.half.scan = nil
	b.hint(Word("spine.marked", name, z), false)
	return nil
}

// UnmarkVertebra takes a mark away.
func (b *Bench) UnmarkVertebra(name string) {
	s := b.spineNow()
	s.Marks = slices.DeleteFunc(slices.Clone(s.Marks), func(v register.Vertebra) bool { return v.Name == name })
	b.Report(b.saveSpine(s))
}

// SetSpineCounts keeps the donor's own counts.
func (b *Bench) SetSpineCounts(c SpineCounts) error {
	s := b.spineNow()
	s.RibPairs, s.Lumbar, s.Transitional = c.RibPairs, c.Lumbar, c.Transitional
	return b.saveSpine(s)
}

// SpineCounts are the donor's own counts as kept.
func (b *Bench) SpineCounts() SpineCounts {
	s := b.spineNow()
	return SpineCounts{s.RibPairs, s.Lumbar, s.Transitional}
}

// VertebraNames are the vertebrae of a donor with these counts, from C2 down.
func (b *Bench) VertebraNames(c SpineCounts) []string {
	s := register.Spine{RibPairs: c.RibPairs, Lumbar: c.Lumbar, Transitional: c.Transitional}
	s.Marks = []register.Vertebra{{Name: "C2"}}
	lines, err := s.Lines()
	if err != nil {
		return nil
	}
	var out []string
	for _, l := range lines {
		out = append(out, l.Name)
	}
	return out
}

// Vertebrae lists the marks, head first, and the doubts about how they were counted.
func (b *Bench) Vertebrae() (rows []VertebraRow, doubts []string) {
	s := b.spineNow()
	marks := slices.Clone(s.Marks)
	slices.SortFunc(marks, func(a, z register.Vertebra) int { return compareFloat(z.Scan, a.Scan) })
	for _, m := range marks {
		words := Word("spine.mark", m.Name, m.Scan, string(m.Counted))
		if m.Counted == register.CountingUnset {
			words = Word("spine.mark.unset", m.Name, m.Scan)
		}
		rows = append(rows, VertebraRow{m.Name, words})
	}
	return rows, s.Words()
}

// VertebraHere names the vertebral level of the cut shown: the donor's own or by usual proportions, and says which; with it what usual
// levels say lies there, a textbook's beside those measured on scans.
func (b *Bench) VertebraHere() (level string, usual []string) {
	lines, err := b.spineNow().Lines()
	if err != nil || len(lines) == 0 {
		return "", nil
	}
	pose, _, ok := b.cutPose()
	if !ok || b.Run().Plane != section.Transverse {
		return "", nil
	}
	p, _ := b.Plate()
	middle := geom.MM{}
	if m, scaled := faceMM(p); scaled {
		middle = m.MM(p.MiddlePx())
	}
	name, own := register.VertebraAt(lines, pose.At(middle).Z)
	key := "spine.here.usual"
	if own {
		key = "spine.here.own"
	}
	body, _, _ := strings.Cut(strings.TrimPrefix(name, "disc "), ",")
	body, _, _ = strings.Cut(body, "/")
	for _, l := range annotate.LevelsAt(usualLevels(), body) {
		if l.From != l.To && l.Part == "span" {
			continue // a structure that passes by says nothing of this level
		}
		basis := Word("spine.textbook")
		if l.Imaging {
			basis = Word("spine.imaging")
		}
		words := Word("spine.usual", upperFirst(l.Structure), l.From, basis)
		if l.From != l.To {
			words = Word("spine.usual.range", upperFirst(l.Structure), l.From, l.To, basis)
		}
		if l.Note != "" {
			words += " " + l.Note
		}
		usual = append(usual, words)
	}
	return Word(key, name), usual
}

// usualLevels are the shipped levels.
var usualLevels = sync.OnceValue(func() []annotate.Level {
	l, err := annotate.LoadLevels(assets.Levels())
	if err != nil {
		return nil // a test reads the shipped list
	}
	return l
})

// paintVertebrae draws the vertebral levels beside the rail: solid where the donor's own is marked, dashed by usual proportions.
func (p *rulerPane) paintVertebrae(r brush, c columns) {
	b := p.b
	lines, err := b.spineNow().Lines()
	if err != nil || b.Run().Plane != section.Transverse || !b.pair.levels.Known() {
		return
	}
	long := b.Run().Extent()
	last := math.Inf(-1)
	for _, l := range lines {
		mm, _ := b.pair.levels.Run(l.Scan)
		if !(mm >= 0 && mm <= long) {
			continue
		}
		u := p.place(mm)
		if u < 0 || u > p.length() {
			continue
		}
		dash, colour := []float64{r.u(3), r.u(3)}, r.pal.Muted
		if l.Own {
			dash, colour = nil, r.pal.Ink
		}
		ink.Stroke(r.dst, []geom.Px{p.xy(u, c.rail+r.u(2)), p.xy(u, c.rail+r.u(20))}, false, r.u(1.6), colour, dash)
		if math.Abs(u-last) < r.lineHeight(smallText) {
			continue
		}
		last = u
		f := r.font
		if l.Own {
			f = r.bold
		}
		at := p.xy(u, c.rail+r.u(24))
		r.text(f, at.X, at.Y, smallText, colour, l.Name)
	}
}
