package drill

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Answer is what the student gave; the field of the question's kind is read, the others are not.
type Answer struct {
	Text   string         // AskName, AskLevel, AskBelow
	Side   annotate.Side  // AskSide
	Facing section.Facing // AskFace
	At     geom.Px        // AskPoint, pixels of the picture
	Depth  float64        // AskOnRun, mm from the run's first face
	Skip   bool           // "I do not know": wrong, and the answer is shown
}

// Reveal is what is shown after the answer.
type Reveal struct {
	Right  bool
	Score  float64 // 0 to 1
	Reason string  // why, in words; may be ""
	Answer string  // what was meant: "left kidney", "seen from below", "L2"
	Face   Face    // with its place on the ruler
	// Structures are the outlines to draw: what was asked, or all for questions on the face.
	Structures []Structure
	Next       *Face    // the face one slab on, for AskBelow
	Placing    *Placing // for AskOnRun
	// Off is how far from the outline a pointed place lies, mm, or px without a scale; 0 inside.
	Off float64
	Due time.Time // when the question comes again
}

// judge compares an answer with what is so.
func (s *Sitting) judge(c card, sh showing, a Answer) Reveal {
	p := s.pack
	f := p.Faces[sh.face]
	x, named := p.structureOf(sh)
	r := Reveal{Face: f, Structures: f.Structures}
	if named {
		r.Structures, r.Answer = []Structure{x}, p.Words(x)
	}
	switch c.ask {
	case AskName:
		r.name(s.terms, []Structure{x}, a.Text)
	case AskSide:
		r.Answer = x.Side.String()
		r.Right = a.Side == x.Side
	case AskPoint:
		r.point(f, x, a.At)
	case AskFace:
		r.Answer = p.SeenFrom(f.Run, f.Facing)
		r.Right = a.Facing == f.Facing
	case AskLevel:
		r.level(f.Vertebra, a.Text)
	case AskBelow:
		s.below(&r, f, x, named, a.Text)
	case AskOnRun:
		run, _ := p.Run(f.Run)
		place := run.Place(f, a.Depth, s.hints)
		r.Answer, r.Placing = p.NameOf(f), &place
		r.Score, r.Right = place.Score, place.Score >= 0.5
	}
	if a.Skip {
		r.Right, r.Score, r.Reason = false, 0, ""
		r.Placing = nil
		return r
	}
	if r.Right && r.Score == 0 {
		r.Score = 1
	}
	return r
}

// name judges a typed name against any of several structures; a side that is named must be the right one.
func (r *Reveal) name(terms *annotate.Terms, meant []Structure, text string) {
	for _, x := range meant {
		v := terms.Match(x.Term, text)
		if r.Reason == "" {
			r.Reason = v.Reason
		}
		if !v.Accepted {
			continue
		}
		r.Reason = v.Reason
		sided := x.Side == annotate.Left || x.Side == annotate.Right
		if sided && v.Side != annotate.NoSide && v.Side != x.Side {
			r.Reason = "the structure is right, the side is not"
			continue
		}
		r.Right = true
		return
	}
}

// point judges a place on the picture.
func (r *Reveal) point(f Face, x Structure, at geom.Px) {
	off := math.Inf(1)
	for _, o := range f.Structures {
		if o.Term != x.Term || o.Side != x.Side {
			continue
		}
		for _, p := range o.Regions {
			if p.Contains(at) {
				r.Right, off = true, 0
				break
			}
			_, _, _, d := p.NearestEdge(at)
			off = math.Min(off, d)
		}
	}
	unit := "px"
	if f.PerPixel > 0 {
		off, unit = off*f.PerPixel, "mm"
	}
	if r.Off = off; !r.Right {
		r.Reason = fmt.Sprintf("%.0f %s outside", off, unit)
		for _, o := range f.Structures {
			if (o.Term != x.Term || o.Side != x.Side) && slices.ContainsFunc(o.Regions, func(p annotate.Polygon) bool { return p.Contains(at) }) {
				r.Structures = append(r.Structures, o)
			}
		}
	}
}

// level judges a typed vertebra; one off is half right, since a face's level is read to about a vertebra (our own choice).
func (r *Reveal) level(vertebra, text string) {
	r.Answer = vertebra
	got, ok := readVertebra(text)
	if !ok {
		r.Reason = "that names no vertebra"
		return
	}
	switch off := got - vertebraIndex(vertebra); {
	case off == 0:
		r.Right = true
	case off == 1 || off == -1:
		r.Right, r.Score, r.Reason = true, 0.5, "one vertebra off"
	case off > 0:
		r.Reason = fmt.Sprintf("%d vertebrae too low", off)
	default:
		r.Reason = fmt.Sprintf("%d vertebrae too high", -off)
	}
}

// below judges what lies one slab further along.
func (s *Sitting) below(r *Reveal, f Face, x Structure, named bool, text string) {
	g, ok := s.pack.next(f)
	if !ok {
		return
	}
	r.Next = &g
	list := s.pack.comesIntoView(f)
	if named {
		list = nil
		if y, ok := g.Find(x.Below); ok {
			list = []Structure{y}
		}
	}
	var words []string
	for _, y := range list {
		words = append(words, s.pack.Words(y))
	}
	r.Answer, r.Structures = strings.Join(words, ", "), list
	r.name(s.terms, list, text)
}
