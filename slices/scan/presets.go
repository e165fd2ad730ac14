package scan

import (
	"math"
	"slices"
)

// Preset is a window for a tissue, with where its figures come from.
type Preset struct {
	Name     string
	Window   Window
	Source   string
	Embalmed bool // for fixed bodies, whose soft tissues differ less
}

// published are the figures of the project's table of CT windows, gathered from open teaching sources that cite one
// another; the sources name ranges round them.
var published = []struct {
	name          string
	centre, width float64
	source        string
}{
	{"brain", 40, 80, "open radiology reference, W 80-100 L 30-40"},
	{"subdural", 100, 254, "open radiology reference, W 130-300 L 50-100"},
	{"stroke", 32, 8, "open radiology reference, W 8-40 L 32-40"},
	{"skull bone (temporal)", 600, 2800, "open radiology reference, W 2000-4000 L 400-700"},
	{"lung", -600, 1500, "open radiology reference, W 1000-1600 L -500 to -600"},
	{"mediastinum", 50, 350, "open radiology reference, W 350-400 L 40-50"},
	{"soft tissue / abdomen", 50, 400, "open radiology reference, W 350-400 L 40-60"},
	{"liver", 30, 150, "open radiology reference, W 150-200 L 30-90"},
	{"pelvis", 40, 400, "teaching deck, W 400 L 40"},
	{"spine soft tissue", 50, 250, "open radiology reference, W 250 L 50"},
	{"bone", 400, 1800, "open radiology reference, W 1200-3000 L 200-1000"},
	{"breast", -50, 400, "teaching deck, W 400 L -50"},
}

// embalmed are starting points of our own: fixed soft tissues are less distinct (post-mortem CT of embalmed bodies),
// so widths are narrowed; centres are left. Common practice, no source for the figures.
var embalmed = []struct {
	name          string
	centre, width float64
}{
	{"embalmed soft tissue", 50, 250},
	{"embalmed brain", 40, 60},
	{"embalmed muscle and fat", 0, 300},
	{"embalmed lung", -500, 1200},
	{"embalmed bone", 400, 1600},
}

// Presets returns the CT windows by tissue, living values first, then those for embalmed bodies.
func Presets() []Preset {
	var list []Preset
	for _, p := range published {
		list = append(list, Preset{Name: p.name, Window: Window{Centre: p.centre, Width: p.width, Name: p.name}, Source: p.source})
	}
	for _, p := range embalmed {
		list = append(list, Preset{Name: p.name, Window: Window{Centre: p.centre, Width: p.width, Name: p.name},
			Source: "starting point of our own; adjust to the body", Embalmed: true})
	}
	return list
}

// StartWindow is the window to begin with: the header's first, else for CT the soft tissue preset, else the span between
// the 1st and 99th percentile of the values.
func (v *Volume) StartWindow() Window {
	if len(v.Windows) > 0 {
		return v.Windows[0]
	}
	if v.Modality == "CT" {
		return Window{Centre: 50, Width: 400, Inverse: v.Inverse}
	}
	low, high := v.Percentiles(0.01, 0.99)
	return Window{Centre: (low + high) / 2, Width: max(high-low, math.SmallestNonzeroFloat32), Function: LinearExact, Inverse: v.Inverse}
}

// Percentiles returns the values below which the shares low and high (0..1) of the voxels lie, padding left out. It
// looks at no more than about a million voxels, evenly spread.
func (v *Volume) Percentiles(low, high float64) (float64, float64) {
	total := v.Size[0] * v.Size[1] * v.Size[2]
	step := max(1, total/(1<<20)) | 1 // odd, so that it does not walk down one column
	values := make([]float32, 0, total/step+1)
	for i := 0; i < total; i += step {
		if x, ok := v.kept(i); ok {
			values = append(values, float32(x))
		}
	}
	if len(values) == 0 {
		return 0, 0
	}
	slices.Sort(values)
	at := func(share float64) float64 {
		return float64(values[int(math.Round(math.Max(0, math.Min(1, share))*float64(len(values)-1)))])
	}
	return at(low), at(high)
}
