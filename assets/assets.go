// Package assets carries the files that ship inside the program: the term list, the usual levels, and what the
// screens need. It imports nothing of ours; readers are handed to the packages that parse them.
package assets

import (
	_ "embed"
	"io"
	"strings"
)

//go:embed terms.tsv
var terms string

//go:embed levels.tsv
var levels string

//go:embed near_twins.tsv
var nearTwins string

//go:embed one_sided.tsv
var oneSided string

// Attribution is the text that names sources, versions and licences of what ships here.
//
//go:embed ATTRIBUTION.md
var Attribution string

// Terms reads the shipped list of structures, tab-separated with a header line.
func Terms() io.Reader { return strings.NewReader(terms) }

// Levels reads the usual vertebral levels, tab-separated with a header line.
func Levels() io.Reader { return strings.NewReader(levels) }

// NearTwins reads the pairs of names one slip apart that mean different things.
func NearTwins() io.Reader { return strings.NewReader(nearTwins) }

// OneSided reads the structures that usually lie on one side of the midline.
func OneSided() io.Reader { return strings.NewReader(oneSided) }
