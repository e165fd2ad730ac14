package bench

import (
	"context"
	"crypto/rand"
	"image/color"
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// carryReach is how far along the run outlines are carried at most, mm: beyond two thick slabs they say nothing of this face.
const carryReach = 60

// SetOutlinesOnScan shows or hides the outlines of the face on the cut.
func (b *Bench) SetOutlinesOnScan(on bool) { b.pair.bare = !on; b.changed(ScanChanged) }

// OutlinesOnScan reports whether the outlines of the face are shown on the cut.
func (b *Bench) OutlinesOnScan() bool { return !b.pair.bare }

// paintCarried draws the outlines of the face where they lie on the cut: dashed, for nobody drew them there.
func (s *scanPane) paintCarried(r brush, v Viewport) {
	b := s.b
	if b.pair.bare || b.pair.step != 0 || b.doc == nil {
		return
	}
	p := b.doc.plate()
	h, scaled := faceMM(p)
	if _, linked := b.mmView(b.doc, s.in); !scaled || !linked {
		return
	}
	dash := []float64{r.u(6), r.u(4)}
	bent := b.bentHere()
	any := false
	for x := range p.Labels.All() {
		line, width := b.pal.Outline, 1.3
		if x.ID == b.draw.chosen {
			line, width = b.pal.ChosenOnDark, 2.2
		}
		for _, poly := range x.Regions {
			for n := range poly.Rings() {
				ring := poly.Ring(n)
				s.ring = s.ring[:0]
				for _, q := range ring {
					m := bent.flat(h.MM(q))
					s.ring = append(s.ring, v.Device(geom.Px{X: m.X, Y: m.Y}))
				}
				ink.Stroke(r.dst, s.ring, true, r.u(width+1.4), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.4), dash)
				ink.Stroke(r.dst, s.ring, true, r.u(width), line, dash)
				any = true
			}
		}
	}
	s.carries = any
}

// needCarry says why no outlines can be brought over to the chosen face.
func needCarry(b *Bench) string {
	if b.Reading().Blind {
		return Word("second.nocarry")
	}
	if why := needLetters(b); why != "" {
		return why
	}
	p, _ := b.Plate()
	switch _, scaled := faceMM(p); {
	case !scaled:
		return Word("carry.noscale")
	case b.pair.series == "":
		return Word("carry.noscan")
	}
	if _, how, ok := b.basePose(); !ok || how == freely {
		return Word("carry.nolevel")
	}
	return ""
}

func needCarried(b *Bench) string {
	if _, x, err := b.chosenLabel(); err != nil || !x.Carried {
		return Word("carry.none.chosen")
	}
	return ""
}

// BringOutlines carries outlines over from the nearest face that has what this face lacks, by way of the scan that both are
// paired with. A structure that is outlined on a face on the other side too is laid in between by both. They are marked as carried and
// count for nothing until a person keeps each.
func (b *Bench) BringOutlines() {
	if why := needCarry(b); why != "" {
		b.hint(why, true)
		return
	}
	near := b.nearestFaces()
	for i, f := range near {
		brought, ok := b.bring(f)
		if !ok || len(brought.labels) == 0 {
			continue
		}
		for _, beyond := range near[i+1:] {
			if other, ok := b.bring(beyond); ok && brought.away*other.away < 0 && brought.shares(other) {
				b.bringBetween(brought, other)
				return
			}
		}
		b.keepBrought(brought)
		return
	}
	b.hint(Word("carry.nothing"), true)
}

// brought are outlines carried to the chosen face from a face that lies away mm further along the run.
type brought struct {
	from   section.Face
	away   float64
	labels []annotate.Label
	lost   int
}

// bring carries what the chosen face lacks over from one face.
func (b *Bench) bring(f section.Face) (out brought, ok bool) {
	from, ok := b.plateOn(f)
	if !ok {
		return out, false
	}
	to, ok := b.between(from)
	if !ok {
		return out, false
	}
	here, _, _ := b.Run().Depth(b.Face())
	there, _, _ := b.Run().Depth(f)
	carried, lost := lacking(from.Labels, b.doc.plate().Labels).CarryOver(to, b.FaceName(f), func(string) string { return strings.ToLower(rand.Text()[:12]) })
	carried = slices.DeleteFunc(carried, func(x annotate.Label) bool { return !b.onPhoto(x) })
	return brought{f, there - here, carried, len(lost)}, true
}

// twin is the label of o for the same structure on the same side, if each has it once.
func (o brought) twin(x annotate.Label) (y annotate.Label, ok bool) {
	for _, z := range o.labels {
		if z.Term == x.Term && z.Side == x.Side {
			if ok {
				return y, false // two of a kind: which belongs to which is not ours to say
			}
			y, ok = z, true
		}
	}
	return y, ok
}

func (o brought) shares(p brought) bool {
	return slices.ContainsFunc(o.labels, func(x annotate.Label) bool { _, ok := p.twin(x); return ok })
}

// bringBetween lays what both faces show in between, by the share of the way this face lies from one to the other (shape-based
// interpolation by signed distance, Raya and Udupa 1990). It is a job, for every structure takes some hundredths of a second.
func (b *Bench) bringBetween(near, far brought) {
	d := b.doc
	share := -near.away / (far.away - near.away)
	between := Word("carry.between", b.FaceName(near.from), b.FaceName(far.from))
	b.start(Word("job.between"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		for i, x := range near.labels {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			tell(i, len(near.labels))
			_, once := near.twin(x)
			y, ok := far.twin(x)
			if !once || !ok {
				continue
			}
			regions := annotate.Blend(x.Regions, y.Regions, share)
			sound := len(regions) > 0 && !slices.ContainsFunc(regions, func(p annotate.Polygon) bool { return p.Check() != nil })
			if sound {
				near.labels[i].Regions, near.labels[i].From = regions, between
			}
		}
		return func() {
			if b.doc == d && !d.blind { // a second reader sees nothing of this
				b.keepBrought(near)
			}
		}, nil
	})
}

// keepBrought adds what was carried, in one step, and chooses the first to be looked at.
func (b *Bench) keepBrought(x brought) {
	err := b.editLabels(Word("step.carry", b.FaceName(x.from)), "", func(l annotate.Labels) (annotate.Labels, error) { return l.AddAll(x.labels) })
	if err != nil {
		b.Report(err)
		return
	}
	words := count("carry.done", len(x.labels), x.labels[0].From)
	if x.lost > 0 {
		words += " " + count("carry.lost", x.lost)
	}
	b.ChooseLabel(x.labels[0].ID)
	b.hint(words, false)
}

// nearestFaces lists the other photographed faces of the run with labels, the nearest along the run first.
func (b *Bench) nearestFaces() []section.Face {
	here, _, err := b.Run().Depth(b.Face())
	if err != nil {
		return nil
	}
	way := map[section.Face]float64{}
	var out []section.Face
	for f, x := range b.rule.facts {
		depth, _, err := b.Run().Depth(f)
		if d := math.Abs(depth - here); err == nil && f != b.Face() && x.labels > 0 && d <= carryReach {
			way[f] = d
			out = append(out, f)
		}
	}
	slices.SortFunc(out, func(a, z section.Face) int {
		switch {
		case way[a] < way[z] || way[a] == way[z] && a.Slab < z.Slab:
			return -1
		}
		return 1
	})
	return out
}

// plateOn is the plate on a face as it stands, unsaved steps included.
func (b *Bench) plateOn(f section.Face) (atlas.Plate, bool) {
	x, there := b.rule.facts[f]
	if !there {
		return atlas.Plate{}, false
	}
	if d := b.docs[x.plate]; d != nil {
		return d.plate(), true
	}
	p, err := b.lab.lib.Plate(x.plate)
	return p, err == nil
}

// between carries pixels of another photograph of the run to pixels of this one: through both poses, straight along the cut.
func (b *Bench) between(from atlas.Plate) (to func(geom.Px) geom.Px, ok bool) {
	here := b.doc.plate()
	h, scaled := faceMM(here)
	g, scaledThere := faceMM(from)
	pose, _, ok := b.poseOf(here, here.Face)
	there, how, okThere := b.poseOf(from, from.Face)
	if !scaled || !scaledThere || !ok || !okThere || how == freely || !lettersKnown(from) {
		return nil, false
	}
	bentHere, bentThere := b.bentOf(here, here.Face), b.bentOf(from, from.Face)
	return func(q geom.Px) geom.Px {
		m, _ := pose.Project(there.At(bentThere.flat(g.MM(q))))
		return h.Px(bentHere.back(m))
	}, true
}

// lacking are the labels of l that count and whose structure, on its side, is not yet among have.
func lacking(l, have annotate.Labels) annotate.Labels {
	type what struct {
		term annotate.TermID
		side annotate.Side
	}
	known := map[what]bool{}
	for x := range have.All() {
		known[what{x.Term, x.Side}] = true
	}
	for x := range l.All() {
		if x.Term == "" || known[what{x.Term, x.Side}] {
			if next, err := l.Remove(x.ID); err == nil {
				l = next
			}
		}
	}
	return l
}

// onPhoto reports whether an outline lies on the photograph at all.
func (b *Bench) onPhoto(x annotate.Label) bool {
	size := b.doc.plate().Photo.Size
	box := x.Bounds()
	return box.Max.X > 0 && box.Max.Y > 0 && box.Min.X < float64(size.X) && box.Min.Y < float64(size.Y)
}

// KeepCarried accepts the chosen carried outline as checked and goes on to the next.
func (b *Bench) KeepCarried() {
	next := b.nextCarried()
	b.ConfirmChosen()
	b.ChooseLabel(next)
}

// deleteKey removes what is chosen; of carried outlines it goes on to the next.
func (b *Bench) deleteKey() {
	if b.draw.tool == ToolBorder && b.doc != nil {
		b.removeEdgePoint()
		return
	}
	next, was := "", b.draw.chosen
	if needCarried(b) == "" && len(b.draw.outline) == 0 && b.draw.point == noPoint {
		next = b.nextCarried()
	}
	b.RemoveChosen()
	if next != "" && b.draw.chosen != was {
		b.ChooseLabel(next)
	}
}

// nextCarried is the id of a carried outline after the chosen one, "" when there is no other.
func (b *Bench) nextCarried() string {
	p, _ := b.Plate()
	first, after := "", false
	for x := range p.Labels.All() {
		switch {
		case x.ID == b.draw.chosen:
			after = true
		case x.Carried && after:
			return x.ID
		case x.Carried && first == "":
			first = x.ID
		}
	}
	return first
}
