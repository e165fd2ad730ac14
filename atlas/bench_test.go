package atlas

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"math"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas/store"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// ring is an outline of n points.
func ring(n int, x, y float64) annotate.Polygon {
	var p annotate.Polygon
	for i := range n {
		w := 2 * math.Pi * float64(i) / float64(n)
		p.Outer = append(p.Outer, geom.Px{X: x + 9*math.Cos(w), Y: y + 9*math.Sin(w)})
	}
	return p
}

// outlined is a plate of so many outlines of 80 points.
func outlined(b *testing.B, p Plate, labels int) Plate {
	for i := range labels {
		x := outline(fmt.Sprint(i), 0, 0)
		x.Term = annotate.TermID(fmt.Sprintf("UBERON:%07d", i))
		x.Regions = []annotate.Polygon{ring(80, 20+float64(i%9), 15)}
		var err error
		if p.Labels, err = p.Labels.Add(x); err != nil {
			b.Fatal(err)
		}
	}
	return p
}

// Budget 2.6 ms: a save on each pause.
func BenchmarkSave60Outlines(b *testing.B) {
	l, r := lab(b)
	p := outlined(b, add(b, l, upper(r, 1), 1), 60)
	for b.Loop() {
		var err error
		if p, err = l.Save(p); err != nil {
			b.Fatal(err)
		}
	}
}

// Budget 2.3 ms: one face opened.
func BenchmarkPlate60Outlines(b *testing.B) {
	l, r := lab(b)
	p, err := l.Save(outlined(b, add(b, l, upper(r, 1), 1), 60))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := l.Plate(p.ID); err != nil {
			b.Fatal(err)
		}
	}
}

// Budget 82 ms: the list of 20 donors x 200 faces, 60 names each.
func BenchmarkFind4000(b *testing.B) {
	l, _ := lab(b)
	var labels []store.Label
	for i := range 60 {
		labels = append(labels, store.Label{ID: fmt.Sprint(i), Term: fmt.Sprintf("UBERON:%07d", i), Side: "left", Sure: "certain"})
	}
	for d := range 20 {
		donor := fmt.Sprintf("D-%02d", d)
		if err := l.AddDonor(Donor{Code: donor}); err != nil {
			b.Fatal(err)
		}
		r := trunk(donor)
		for n := 4; n <= 100; n++ {
			r.Slabs = append(r.Slabs, section.Slab{Number: n, Thickness: [3]float64{20}})
		}
		r, err := l.SaveRun(r)
		if err != nil {
			b.Fatal(err)
		}
		for i, f := range r.Faces() {
			p := Plate{ID: fmt.Sprintf("P%02d%04d", d, i), Donor: donor, Face: f, Rev: 1, Saved: time.Now(), Photo: photo.Info{Size: image.Pt(6000, 4000)}}
			binary.BigEndian.PutUint32(p.Photo.SHA256[:], uint32(1000*d+i))
			row, err := rowOf(p)
			if err != nil {
				b.Fatal(err)
			}
			row.Labels = labels
			if err := l.db.AddPlate(row, store.Photo{SHA256: row.Photo, Ext: ".jpg"}); err != nil {
				b.Fatal(err)
			}
		}
	}
	for b.Loop() {
		n := 0
		for _, err := range l.Find(Query{}) {
			if err != nil {
				b.Fatal(err)
			}
			n++
		}
		if n != 4000 {
			b.Fatal(n)
		}
	}
}

func FuzzReadLabels(f *testing.F) {
	f.Add([]byte(`{"format":"sectionary-labels-1","size":{"X":40,"Y":30},"labels":[{"id":"a","term":"T:1","side":"left","sure":"certain","regions":[{"outer":[[1,1],[9,1],[9,9]]}]}]}`))
	f.Add([]byte(`{"format":"sectionary-labels-1","size":{"X":40,"Y":30},"labels":[{"id":"a","regions":[{"outer":[[1e308,1],[-1e308,1],[9,9]]}]}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		got, _, err := ReadLabels(bytes.NewReader(b))
		if err != nil {
			return
		}
		for x := range got.All() { // what is taken in can be drawn
			for _, r := range x.Regions {
				if err := r.Check(); err != nil {
					t.Errorf("%s: %v", x.ID, err)
				}
			}
		}
	})
}
