package annotate

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"

	"sectionary/slices/geom"
)

// MarshalJSON writes {"outer":[[x,y],...],"holes":[[[x,y],...],...]}; holes are left out when there are none.
// Numbers are the shortest that read back equal.
func (p Polygon) MarshalJSON() ([]byte, error) {
	b := append(make([]byte, 0, 24*len(p.Outer)), `{"outer":`...)
	var err error
	if b, err = appendRing(b, p.Outer); err != nil {
		return nil, err
	}
	for i, h := range p.Holes {
		if i == 0 {
			b = append(b, `,"holes":[`...)
		} else {
			b = append(b, ',')
		}
		if b, err = appendRing(b, h); err != nil {
			return nil, err
		}
	}
	if len(p.Holes) > 0 {
		b = append(b, ']')
	}
	return append(b, '}'), nil
}

func appendRing(b []byte, r []geom.Px) ([]byte, error) {
	b = append(b, '[')
	for i, q := range r {
		if i > 0 {
			b = append(b, ',')
		}
		if q.X-q.X != 0 || q.Y-q.Y != 0 { // NaN and infinities have no JSON
			return nil, fmt.Errorf("annotate: point %g, %g cannot be written", q.X, q.Y)
		}
		b = append(b, '[')
		b = strconv.AppendFloat(b, q.X, 'g', -1, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, q.Y, 'g', -1, 64)
		b = append(b, ']')
	}
	return append(b, ']'), nil
}

// UnmarshalJSON reads what MarshalJSON writes. A ring that repeats its first point at the end, as many formats
// do, loses the repeat. It does not Check.
func (p *Polygon) UnmarshalJSON(b []byte) error {
	var in struct {
		Outer []jsonPoint   `json:"outer"`
		Holes [][]jsonPoint `json:"holes"`
	}
	if err := json.Unmarshal(b, &in); err != nil {
		return fmt.Errorf("annotate: outline: %w", err)
	}
	*p = Polygon{Outer: ringOf(in.Outer)}
	for _, h := range in.Holes {
		p.Holes = append(p.Holes, ringOf(h))
	}
	return nil
}

// jsonPoint is exactly two numbers. Left to itself encoding/json would read null as 0, pad [1] and drop the end of
// [1,2,3] without a word.
type jsonPoint geom.Px

func (q *jsonPoint) UnmarshalJSON(b []byte) error {
	x, y, ok := bytes.Cut(bytes.Trim(b, "[]"), []byte(","))
	var errX, errY error
	q.X, errX = strconv.ParseFloat(string(bytes.TrimSpace(x)), 64)
	q.Y, errY = strconv.ParseFloat(string(bytes.TrimSpace(y)), 64)
	if !ok || errX != nil || errY != nil || b[0] != '[' {
		return fmt.Errorf("%q is not a point [x, y]", b)
	}
	return nil
}

func ringOf(in []jsonPoint) []geom.Px {
	out := make([]geom.Px, len(in))
	for i, q := range in {
		out[i] = geom.Px(q)
	}
	return openRing(out)
}

// openRing drops the last point when it repeats the first.
func openRing(r []geom.Px) []geom.Px {
	if n := len(r); n > 1 && r[0] == r[n-1] {
		return r[:n-1]
	}
	return r
}
