package geom

import (
	"encoding/json"
	"fmt"
	"strconv"
)

// Points and displacements stand in JSON as lists, [x,y] or [x,y,z]. Reading also takes an object
// {"X":1,"Y":2,"Z":3}, in capitals or not, so that a pose written by hand is not refused for its shape.

func (p Px) MarshalJSON() ([]byte, error)  { return numbers(p.X, p.Y) }
func (p MM) MarshalJSON() ([]byte, error)  { return numbers(p.X, p.Y) }
func (p LPS) MarshalJSON() ([]byte, error) { return numbers(p.X, p.Y, p.Z) }
func (v Vec) MarshalJSON() ([]byte, error) { return numbers(v.X, v.Y, v.Z) }

func (p *Px) UnmarshalJSON(b []byte) error  { return read(b, "a pixel", &p.X, &p.Y) }
func (p *MM) UnmarshalJSON(b []byte) error  { return read(b, "a face point", &p.X, &p.Y) }
func (p *LPS) UnmarshalJSON(b []byte) error { return read(b, "a patient point", &p.X, &p.Y, &p.Z) }
func (v *Vec) UnmarshalJSON(b []byte) error { return read(b, "a direction", &v.X, &v.Y, &v.Z) }

func numbers(xs ...float64) ([]byte, error) {
	if !finite(xs...) {
		return nil, fmt.Errorf("geom: a point that is not finite cannot be written")
	}
	b := make([]byte, 0, 24*len(xs))
	for i, x := range xs {
		b = append(b, "[,,"[i])
		b = strconv.AppendFloat(b, x, 'g', -1, 64)
	}
	return append(b, ']'), nil
}

func read(b []byte, what string, into ...*float64) error {
	if string(b) == "null" {
		return nil
	}
	var list []float64
	if len(b) > 0 && b[0] == '{' {
		var o struct{ X, Y, Z *float64 }
		if err := json.Unmarshal(b, &o); err != nil {
			return fmt.Errorf("geom: %s: %w", what, err)
		}
		for i, x := range []*float64{o.X, o.Y, o.Z} {
			if (x != nil) != (i < len(into)) {
				return fmt.Errorf("geom: %s wants its %d numbers named X, Y, Z", what, len(into))
			}
			if x != nil {
				list = append(list, *x)
			}
		}
	} else if err := json.Unmarshal(b, &list); err != nil {
		return fmt.Errorf("geom: %s: %w", what, err)
	}
	if len(list) != len(into) {
		return fmt.Errorf("geom: %s has %d numbers, not %d", what, len(into), len(list))
	}
	for i, x := range list {
		*into[i] = x
	}
	return nil
}
