package atlas

import (
	"cmp"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"slices"
	"strconv"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/scan"
)

// ErrLabelGrid says that a label volume does not fit: it holds no labels, or too many, or a key that does not belong to it.
var ErrLabelGrid = errors.New("atlas: not a volume of labels")

// FaceOnScan is a face with its labels and its place in a scan: Pose lays mm of the face in the patient, ToPx and ToMM carry those mm to
// pixels of the upright photograph and back.
type FaceOnScan struct {
	Labels annotate.Labels
	Pose   geom.Pose
	ToPx   func(geom.MM) geom.Px
	ToMM   func(geom.Px) geom.MM
}

// VolumeKey tells what one number of a label volume stands for. The same structure on the same side has one number on all faces.
type VolumeKey struct {
	Number int
	Term   annotate.TermID
	Side   annotate.Side
}

// LabelVolume draws the labels that count into a volume on a scan's own grid. A voxel takes the number of the structure over its centre
// when the plane of a face passes through the voxel: where no face was cut there is 0, for nothing was seen there. Where two faces pass
// through one voxel the nearer counts; of two labels over one place the later. done reports faces.
func LabelVolume(ctx context.Context, grid *scan.Volume, faces []FaceOnScan, done func(face, total int)) (*scan.Volume, []VolumeKey, error) {
	keys, number := numbersOf(faces)
	if len(keys) == 0 {
		return nil, nil, fmt.Errorf("%w: no face of the run that lies in this scan has a label that counts", ErrLabelGrid)
	}
	if len(keys) > math.MaxInt16 {
		return nil, nil, fmt.Errorf("%w: %d structures are more than numbers", ErrLabelGrid, len(keys))
	}
	v := volumeDrawing{grid: grid, values: make([]int16, grid.Size[0]*grid.Size[1]*grid.Size[2])}
	v.off = make([]float32, len(v.values))
	var err error
	if v.inverse, err = grid.ToLPS.Inverse(); err != nil {
		return nil, nil, fmt.Errorf("atlas: label volume: %w", err)
	}
	for i, f := range faces {
		for x := range f.Labels.All() {
			if err := ctx.Err(); err != nil {
				return nil, nil, err
			}
			if x.Counts() {
				v.draw(f, x, number[VolumeKey{0, x.Term, x.Side}])
			}
		}
		if done != nil {
			done(i+1, len(faces))
		}
	}
	out, err := scan.NewVolume(grid.Size, grid.ToLPS, v.values)
	if err != nil {
		return nil, nil, err
	}
	out.Modality, out.Unoriented = "SEG", grid.Unoriented
	return out, keys, nil
}

func numbersOf(faces []FaceOnScan) (keys []VolumeKey, number map[VolumeKey]int16) {
	number = map[VolumeKey]int16{}
	for _, f := range faces {
		for x := range f.Labels.All() {
			if k := (VolumeKey{0, x.Term, x.Side}); x.Counts() && number[k] == 0 {
				number[k] = 1
				keys = append(keys, k)
			}
		}
	}
	slices.SortFunc(keys, func(a, b VolumeKey) int {
		return cmp.Or(cmp.Compare(a.Term, b.Term), cmp.Compare(a.Side, b.Side))
	})
	for i := range keys {
		number[keys[i]] = int16(i + 1)
		keys[i].Number = i + 1
	}
	return keys, number
}

// volumeDrawing holds the numbers drawn so far and, for each voxel that has one, how far its face is: 1 + that distance in mm.
type volumeDrawing struct {
	grid    *scan.Volume
	inverse func(geom.LPS) geom.IJK
	values  []int16
	off     []float32
}

// draw draws one label.
func (v *volumeDrawing) draw(f FaceOnScan, x annotate.Label, number int16) {
	i0, i1, half := v.box(f, x)
	di, dj := v.grid.ToLPS.Column(0), v.grid.ToLPS.Column(1)
	for k := i0[2]; k <= i1[2]; k++ {
		for j := i0[1]; j <= i1[1]; j++ {
			at := v.grid.Origins[k].Add(dj.Mul(float64(j)))
			for i := i0[0]; i <= i1[0]; i++ {
				m, off := f.Pose.Project(at.Add(di.Mul(float64(i))))
				if !(off > -half && off <= half) {
					continue
				}
				n := (k*v.grid.Size[1]+j)*v.grid.Size[0] + i
				if d := float32(1 + math.Abs(off)); (v.off[n] == 0 || d <= v.off[n]) && x.Contains(f.ToPx(m)) {
					v.values[n], v.off[n] = number, d
				}
			}
		}
	}
}

// box is the box of voxels that may lie over a label, and half the way through a voxel along the face's normal.
func (v *volumeDrawing) box(f FaceOnScan, x annotate.Label) (lo, hi [3]int, half float64) {
	n := f.Pose.Normal()
	for c := range 3 {
		half += math.Abs(n.Dot(v.grid.ToLPS.Column(c))) / 2
	}
	low, high := geom.IJK{I: math.Inf(1), J: math.Inf(1), K: math.Inf(1)}, geom.IJK{I: math.Inf(-1), J: math.Inf(-1), K: math.Inf(-1)}
	for _, p := range x.Regions {
		for _, q := range p.Outer {
			at := f.Pose.At(f.ToMM(q))
			for _, side := range [2]float64{-half, half} {
				c := v.inverse(at.Add(n.Mul(side)))
				low = geom.IJK{I: math.Min(low.I, c.I), J: math.Min(low.J, c.J), K: math.Min(low.K, c.K)}
				high = geom.IJK{I: math.Max(high.I, c.I), J: math.Max(high.J, c.J), K: math.Max(high.K, c.K)}
			}
		}
	}
	clip := func(x float64, c int) int { return int(max(-1, min(float64(v.grid.Size[c]), x))) }
	lo = [3]int{max(0, clip(low.I, 0)-1), max(0, clip(low.J, 1)-1), max(0, clip(low.K, 2)-2)}
	hi = [3]int{min(v.grid.Size[0]-1, clip(high.I, 0)+2), min(v.grid.Size[1]-1, clip(high.J, 1)+2), min(v.grid.Size[2]-1, clip(high.K, 2)+2)}
	return lo, hi, half
}

// mostSampled bounds the picture in which the outlines of a label volume are traced, samples.
const mostSampled = 16 << 20

// Traced is one structure of a label volume met by a face: its number and its outline in pixels of the photograph.
type Traced struct {
	Number  int
	Regions []annotate.Polygon
}

// TraceLabels cuts a label volume along a face and traces every structure met; size is that of the photograph in pixels. A voxel
// counts by its nearest centre, so that no number appears that is not there.
func TraceLabels(ctx context.Context, v *scan.Volume, f FaceOnScan, width, height int) ([]Traced, error) {
	inverse, err := v.ToLPS.Inverse()
	if err != nil {
		return nil, fmt.Errorf("atlas: label volume: %w", err)
	}
	step := math.Inf(1)
	for c := range 3 {
		step = math.Min(step, v.ToLPS.Column(c).Len()/2)
	}
	lo, hi := geom.MM{X: math.Inf(1), Y: math.Inf(1)}, geom.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, q := range [4]geom.Px{{}, {X: float64(width)}, {Y: float64(height)}, {X: float64(width), Y: float64(height)}} {
		m := f.ToMM(q)
		lo, hi = geom.MM{X: math.Min(lo.X, m.X), Y: math.Min(lo.Y, m.Y)}, geom.MM{X: math.Max(hi.X, m.X), Y: math.Max(hi.Y, m.Y)}
	}
	step = math.Max(step/f.Pose.Scale, math.Sqrt((hi.X-lo.X)*(hi.Y-lo.Y)/mostSampled))
	w, h := int((hi.X-lo.X)/step)+1, int((hi.Y-lo.Y)/step)+1
	if !(step > 0) || w < 1 || h < 1 || w > mostSampled || h > mostSampled/w+1 {
		return nil, fmt.Errorf("atlas: label volume: %w", geom.ErrDegenerate)
	}
	numbers := make([]uint16, w*h)
	at := func(q geom.Px) geom.MM { return geom.MM{X: lo.X + step*q.X, Y: lo.Y + step*q.Y} }
	for y := range h {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for x := range w {
			c := inverse(f.Pose.At(at(geom.Px{X: float64(x), Y: float64(y)})))
			n := v.Value(int(math.Round(c.I)), int(math.Round(c.J)), int(math.Round(c.K)))
			if n == math.Trunc(n) && n > 0 && n <= math.MaxInt16 {
				numbers[y*w+x] = uint16(n)
			}
		}
	}
	return traced(numbers, w, h, func(q geom.Px) geom.Px { return f.ToPx(at(q)) }), nil
}

// traced outlines every number of a picture: the stairs of its voxels rounded, specks of fewer than 12 samples left out.
func traced(numbers []uint16, w, h int, to func(geom.Px) geom.Px) (out []Traced) {
	for n, regions := range annotate.FromNumbers(image.Rect(0, 0, w, h), numbers) {
		t := Traced{Number: int(n)}
		for _, p := range regions {
			if p.AreaPx() < 12 {
				continue
			}
			if p = p.Smooth().Smooth().Simplify(0.6).Map(to); p.Check() == nil {
				t.Regions = append(t.Regions, p)
			}
		}
		if len(t.Regions) > 0 {
			out = append(out, t)
		}
	}
	slices.SortFunc(out, func(a, b Traced) int { return cmp.Compare(a.Number, b.Number) })
	return out
}

// keyColumns head the table that goes beside a label volume.
var keyColumns = []string{"number", "term", "side", "name"}

// WriteKey writes the key of a label volume as CSV: number, term, side, name.
func WriteKey(w io.Writer, keys []VolumeKey, name func(annotate.TermID) string) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	rows := [][]string{keyColumns}
	for _, k := range keys {
		rows = append(rows, []string{strconv.Itoa(k.Number), string(k.Term), k.Side.String(), name(k.Term)})
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("atlas: key of the label volume: %w", err)
	}
	return nil
}

// ReadKey reads what WriteKey wrote. It fails with ErrLabelGrid on a row that is not one.
func ReadKey(r io.Reader) ([]VolumeKey, error) {
	in := csv.NewReader(io.LimitReader(r, 16<<20))
	in.FieldsPerRecord = len(keyColumns)
	rows, err := in.ReadAll()
	if err != nil || len(rows) == 0 || !slices.Equal(rows[0], keyColumns) {
		return nil, errors.Join(fmt.Errorf("%w: the key must have the columns number, term, side, name", ErrLabelGrid), err)
	}
	var out []VolumeKey
	for i, row := range rows[1:] {
		n, err := strconv.Atoi(row[0])
		side, sideErr := annotate.ParseSide(row[2])
		if err != nil || sideErr != nil || n < 1 || n > math.MaxInt16 || row[1] == "" {
			return nil, fmt.Errorf("%w: row %d of the key", ErrLabelGrid, i+2)
		}
		out = append(out, VolumeKey{n, annotate.TermID(row[1]), side})
	}
	return out, nil
}
