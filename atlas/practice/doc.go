// Package practice makes the practice lab: an invented body, its CT series, its slabs photographed in three
// planes, and the truth about all of it. Everything is made by calculation from a seed, the same bytes each time;
// no person is shown, and every picture says that it is synthetic.
package practice

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// Donor is the lab code of the practice donor.
const Donor = "PL-07"

const notice = "synthetic practice material made by calculation; it shows no person"

// The scan: 2 x 2 mm pixels, slices 3 mm apart from the thighs to the crown.
const (
	scanCols, scanRows = 200, 128
	scanStep           = 2.0
	sliceStep          = 3.0
)

// Write makes the practice material below dir, which must be empty or absent: scan (DICOM), photos, scale (four
// plate corners each), ties, outlines, runs and truth.json. The same seed gives the same bytes. progress, which
// may be nil, is told how many of all files are done. It fails when dir is not empty, cannot be written, or ctx ends.
func Write(ctx context.Context, dir string, seed uint64, progress func(done, total int)) (*Truth, error) {
	if err := emptyDir(dir); err != nil {
		return nil, err
	}
	w := newWriter(dir, seed, progress)
	for _, f := range w.jobs() {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("practice: stopped: %w", err)
		}
		if err := f(); err != nil {
			return nil, fmt.Errorf("practice: %w", err)
		}
	}
	b, err := json.MarshalIndent(w.truth, "", " ")
	if err != nil {
		return nil, fmt.Errorf("practice: %w", err)
	}
	if err := w.file("truth.json", append(b, '\n')); err != nil {
		return nil, fmt.Errorf("practice: %w", err)
	}
	return w.truth, nil
}

func emptyDir(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("practice: %w", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("practice: %w", err)
	}
	if len(entries) > 0 {
		return fmt.Errorf("practice: %s is not empty; name a new folder", dir)
	}
	return nil
}

type writer struct {
	dir      string
	seed     uint64
	body     *body
	pieces   []piece
	terms    map[annotate.TermID]string
	progress func(done, total int)
	truth    *Truth
	mu       sync.Mutex
	done     int
	total    int
}

func newWriter(dir string, seed uint64, progress func(done, total int)) *writer {
	w := &writer{dir: dir, seed: seed, body: newBody(), progress: progress, terms: termNames()}
	w.pieces = w.body.pieces()
	w.truth = &Truth{Synthetic: notice, Seed: seed, Donor: Donor, Levels: map[string][3]float64{}}
	for name, p := range levels(w.body.spine) {
		w.truth.Levels[name] = [3]float64{p.X, p.Y, p.Z}
	}
	return w
}

// termNames reads the English names of the shipped list; a list that cannot be read is a broken build and is
// found by the tests.
func termNames() map[annotate.TermID]string {
	out := map[annotate.TermID]string{}
	if t, err := annotate.LoadTerms(assets.Terms()); err == nil {
		for _, x := range t.All() {
			out[x.ID] = x.Name
		}
	}
	return out
}

// jobs lists the work in steps short enough for a person who wants to stop it.
func (w *writer) jobs() []func() error {
	slices := int((w.body.top+20-w.body.bottom)/sliceStep) + 1
	origin := geom.LPS{X: -scanStep * (scanCols - 1) / 2, Y: -scanStep * (scanRows - 1) / 2, Z: w.body.bottom - 10}
	w.truth.Scan = TruthScan{"scan", [3]int{scanCols, scanRows, slices}, [3]float64{scanStep, scanStep, sliceStep}, [3]float64{origin.X, origin.Y, origin.Z}}
	var jobs []func() error
	const batch = 16
	for from := 0; from < slices; from += batch {
		jobs = append(jobs, func() error { return w.scan(origin, from, min(from+batch, slices), slices) })
	}
	number := 0
	for _, c := range cutRuns(noise(w.seed)) {
		c.run.Donor = Donor
		w.truth.Runs = append(w.truth.Runs, c.run)
		for _, f := range c.run.Faces() {
			if c.lost[f] {
				continue
			}
			n := number
			jobs = append(jobs, func() error { return w.face(&c, f, n) })
			number++
		}
	}
	jobs = append(jobs, w.runs)
	w.total = slices + number + 1
	return jobs
}

func (w *writer) step() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.done++
	if w.progress != nil {
		w.progress(w.done, w.total)
	}
}

func (w *writer) file(name string, b []byte) error {
	path := filepath.Join(w.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, b, 0o644)
}

// scan writes slices from up to to, on all cores.
func (w *writer) scan(origin geom.LPS, from, to, of int) error {
	errs := make([]error, to-from)
	var wg sync.WaitGroup
	limit := make(chan struct{}, runtime.GOMAXPROCS(0))
	for k := from; k < to; k++ {
		wg.Add(1)
		limit <- struct{}{}
		go func() {
			defer func() { <-limit; wg.Done() }()
			errs[k-from] = w.slice(origin, k, of)
			w.step()
		}()
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) slice(origin geom.LPS, k, of int) error {
	at := origin.Add(geom.Vec{Z: sliceStep * float64(k)})
	var b bytes.Buffer
	err := scan.WriteDICOM(&b, scan.SyntheticSlice{
		Seed: w.seed, Series: 1, Number: k + 1, Code: Donor, Description: "practice body, whole", Columns: scanCols, Rows: scanRows,
		HU: w.body.hounsfield(w.pieces, at, noise(w.seed)), Origin: at, Row: geom.Vec{X: 1}, Column: geom.Vec{Y: 1},
		Spacing: [2]float64{scanStep, scanStep}, Thickness: sliceStep, Windows: []scan.Window{{Centre: 40, Width: 400, Name: "soft tissue"}},
	})
	if err != nil {
		return err
	}
	return w.file(fmt.Sprintf("scan/%04d.dcm", (k*37)%of+1), b.Bytes()) // names tell nothing about the order
}

// hounsfield reads one slice at half the pixel size and takes means, so that edges are soft as a scanner's are.
func (b *body) hounsfield(pieces []piece, at geom.LPS, n noise) []int16 {
	const fine = 2
	f := &field{W: scanCols * fine, H: scanRows * fine, Step: scanStep / fine, part: make([]uint16, scanCols*fine*scanRows*fine)}
	f.X0, f.Y0 = -f.Step/2, -f.Step/2
	paint(f, pieces, geom.Pose{Origin: at, X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}, b.bottom, b.top)
	out := make([]int16, scanCols*scanRows)
	for j := range scanRows {
		for i := range scanCols {
			sum, grain := 0.0, 0.0
			for dj := range fine {
				for di := range fine {
					t := airStuff
					if p := f.at(i*fine+di, j*fine+dj); p > 0 {
						t = b.parts[p-1].tissue
					}
					sum, grain = sum+t.hu, grain+t.noise
				}
			}
			z := int64(at.Z * 1000)
			v := sum/(fine*fine) + (4+grain/(fine*fine))*n.bell(int64(i), int64(j), z)
			out[j*scanCols+i] = int16(clamp(v, -1024, 3000))
		}
	}
	return out
}

// name of the files of one face, telling the run and its place in it.
func name(f section.Face) string { return fmt.Sprintf("%s-%02d-%s", f.Run, f.Slab, f.Facing) }

func (w *writer) face(c *cutRun, f section.Face, number int) error {
	defer w.step()
	s := lay(w.body, w.pieces, c, f, Donor, number, noise(w.seed))
	t, err := s.truth(w.terms)
	if err != nil {
		return err
	}
	t.Photo, t.Outlines = "photos/"+name(f)+".jpg", "outlines/"+name(f)+".json"
	var jpeg bytes.Buffer
	if err := photo.EncodeJPEG(&jpeg, stored(s.scene.render(), t.Orientation), 88); err != nil {
		return err
	}
	if err := w.file(t.Photo, photo.WithEXIF(jpeg.Bytes(), t.Orientation, s.taken())); err != nil {
		return err
	}
	var scale, ties bytes.Buffer
	fmt.Fprintln(&scale, "# px,py,x_mm,y_mm")
	for i, p := range t.Corners {
		m := [4]geom.MM{{X: 0, Y: 0}, {X: cornerW, Y: 0}, {X: cornerW, Y: cornerH}, {X: 0, Y: cornerH}}[i]
		fmt.Fprintf(&scale, "%.3f,%.3f,%g,%g\n", p.X, p.Y, m.X, m.Y)
	}
	fmt.Fprintln(&ties, "# x_mm,y_mm,X,Y,Z")
	for _, tie := range t.Ties {
		m := t.PxToMM.MM(tie.Px)
		fmt.Fprintf(&ties, "%.4f,%.4f,%.4f,%.4f,%.4f\n", m.X, m.Y, tie.Scan.X, tie.Scan.Y, tie.Scan.Z)
	}
	if err := w.file("scale/"+name(f)+".csv", scale.Bytes()); err != nil {
		return err
	}
	if err := w.file("ties/"+name(f)+".csv", ties.Bytes()); err != nil {
		return err
	}
	labels, err := labelled(t.labels)
	if err != nil {
		return err
	}
	b, err := json.Marshal(labels)
	if err != nil {
		return err
	}
	w.truth.Faces = append(w.truth.Faces, t)
	return w.file(t.Outlines, append(b, '\n'))
}

func labelled(list []annotate.Label) (labels annotate.Labels, err error) {
	for _, x := range list {
		if labels, err = labels.Add(x); err != nil {
			return labels, err
		}
	}
	return labels, nil
}

func (w *writer) runs() error {
	defer w.step()
	for _, r := range w.truth.Runs {
		b, err := json.MarshalIndent(r, "", " ")
		if err != nil {
			return err
		}
		if err := w.file("runs/"+r.ID+".json", append(b, '\n')); err != nil {
			return err
		}
	}
	return w.file("README.txt", []byte("Sectionary practice material: "+notice+".\n"))
}
