package practice

import (
	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Truth is what is really so in the practice material: written as truth.json beside it, and what tests of the
// whole program compare with. Lengths are mm, places LPS, pixels those of the upright photograph.
type Truth struct {
	Synthetic string                `json:"synthetic"`
	Seed      uint64                `json:"seed"`
	Donor     string                `json:"donor"`
	Scan      TruthScan             `json:"scan"`
	Levels    map[string][3]float64 `json:"levels"` // middle of each vertebral body
	Runs      []section.Run         `json:"runs"`
	Faces     []TruthFace           `json:"faces"`
}

// TruthScan describes the CT series in the folder scan.
type TruthScan struct {
	Folder  string     `json:"folder"`
	Size    [3]int     `json:"size"`
	Spacing [3]float64 `json:"spacing"`
	Origin  [3]float64 `json:"origin"`
}

// TruthFace is one photographed face.
type TruthFace struct {
	Face        section.Face     `json:"face"`
	Photo       string           `json:"photo"`
	Orientation int              `json:"orientation"` // EXIF value of the stored picture
	PhotoUp     section.Facing   `json:"photoUp"`
	Depth       float64          `json:"depth"` // from the run's datum
	Level       float64          `json:"level"` // where the middle of the face lies along the axis of the cut
	PxToMM      geom.Homography  `json:"pxToMM"`
	Pose        geom.Pose        `json:"pose"` // of the face mm that the scale plate gives, without the sag
	Sag         [2]float64       `json:"sag"`  // share by which the slab lies wider and taller than it is
	Corners     [4]geom.Px       `json:"corners"`
	Tag         annotate.Polygon `json:"tag"`
	Ties        []TruthTie       `json:"ties"`
	Outlines    string           `json:"outlines"`
	Structures  []TruthStructure `json:"structures"`
	labels      []annotate.Label // for Build; outlines hold the same
	border      []annotate.Polygon
}

// TruthTie is a landmark: where it stands in the photograph and where it was picked in the scan.
type TruthTie struct {
	Name string   `json:"name"`
	Px   geom.Px  `json:"px"`
	Scan geom.LPS `json:"scan"`
}

// TruthStructure is one structure on the face.
type TruthStructure struct {
	Term annotate.TermID `json:"term"`
	Name string          `json:"name"`
	Side annotate.Side   `json:"side"`
	Area float64         `json:"area"` // mm2, of the body without sag
}
