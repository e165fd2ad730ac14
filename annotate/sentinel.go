package annotate

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"sectionary/slices/geom"
)

// Midplane is the donor's midline on a face: a point on it and the direction of the donor's left in the picture of
// the upright original. Where the left is unknown, nothing may be said about sides.
type Midplane struct {
	On      geom.Px
	Leftish geom.Px // direction, any length above zero
}

// Offset returns how far q lies to the donor's left of the midline, in pixels; negative is right. NaN without a direction.
func (m Midplane) Offset(q geom.Px) float64 {
	n := math.Hypot(m.Leftish.X, m.Leftish.Y)
	return ((q.X-m.On.X)*m.Leftish.X + (q.Y-m.On.Y)*m.Leftish.Y) / n
}

// Suggest returns the side a label's outline lies on. slack is the half-width in pixels of the band that counts as midline.
func (m Midplane) Suggest(x Label, slack float64) Side {
	switch d := m.Offset(x.Centroid()); {
	case math.IsNaN(d):
		return NoSide
	case d > slack:
		return Left
	case d < -slack:
		return Right
	}
	return Midline
}

// OneSided tells on which side a structure usually lies: the lab's list, not a rule.
type OneSided map[TermID]Side

// LoadOneSided reads a list of usually one-sided structures as tab-separated text: a header line, then id, side (left or
// right) and, for people, a name. Lines that start with # are skipped. Errors are ErrTerms with the line.
func LoadOneSided(r io.Reader) (OneSided, error) {
	out, header := OneSided{}, true
	lines := bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSpace(lines.Text())
		if text == "" || text[0] == '#' {
			continue
		}
		if header {
			header = false
			continue
		}
		c := strings.Split(text, "\t")
		if len(c) < 2 {
			return nil, fmt.Errorf("%w: line %d: id and side are needed", ErrTerms, n)
		}
		side, err := ParseSide(c[1])
		if err != nil || side != Left && side != Right {
			return nil, fmt.Errorf("%w: line %d: the side must be left or right, not %q", ErrTerms, n, c[1])
		}
		if len(out) > 10_000 {
			return nil, fmt.Errorf("%w: more than 10,000 one-sided structures", ErrTerms)
		}
		out[TermID(c[0])] = side
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrTerms, err)
	}
	return out, nil
}

// SideWarning says that the side of a label and the place of its outline do not go together. It is never put right by
// itself: the face, the side or the body may be the odd one.
type SideWarning struct {
	Label   string
	Says    Side // what the label or the usual place says
	Lies    Side // where the outline lies
	Usual   bool // the structure usually lies on the side Says; a situs variant is possible
	Message string
}

// Watch compares a label with where its outline lies; nil when they agree, when it lies across the midline, or when the
// left is not known.
func (m Midplane) Watch(x Label, terms *Terms, usual OneSided, slack float64) *SideWarning {
	lies := m.Suggest(x, slack)
	if lies != Left && lies != Right {
		return nil
	}
	name := string(x.Term)
	if terms != nil {
		if t, ok := terms.ByID(x.Term); ok {
			name = t.Name
		}
	}
	if (x.Side == Left || x.Side == Right) && x.Side != lies {
		return &SideWarning{Label: x.ID, Says: x.Side, Lies: lies,
			Message: fmt.Sprintf("Label says %s %s; the outline lies %s of the midline on this face. Check the face, the side, or record a situs variant.", strings.ToUpper(x.Side.String()), name, lies)}
	}
	if side, ok := usual[x.Term]; ok && side != lies {
		return &SideWarning{Label: x.ID, Says: side, Lies: lies, Usual: true,
			Message: fmt.Sprintf("The %s usually lies on the %s; this outline lies %s of the midline. Check the face and its left and right, or situs variant?", name, side, lies)}
	}
	return nil
}
