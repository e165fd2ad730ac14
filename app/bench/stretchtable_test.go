package bench

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sectionary/slices/geom"
)

// MS3: eight landmarks on a face 4 % longer front to back than the scan and as wide give that figure in the table; the page stands in
// the lab's own folder and nowhere else.
func TestMS3StretchTable(t *testing.T) {
	b, q, m, _, _ := onPairing(t)
	m.dir = t.TempDir()
	pose, _, _ := b.basePose()
	ties := honestTies(b, pose, places(8)...)
	h, _ := faceMM(b.doc.plate())
	for i := range ties {
		p := h.MM(ties[i].Face)
		ties[i].Scan = pose.At(geom.MM{X: p.X, Y: p.Y / 1.04})
	}
	b.tryTies("t", ties)
	var got StretchTable
	b.MeasureStretch(func(x StretchTable) { got = x })
	q.run()
	var line StretchLine
	for _, r := range got.Rows {
		if r.Slab == 2 {
			line = r
		}
	}
	if got.Ways != [2]string{"side to side", "front to back"} || !strings.HasPrefix(line.Across[1], "+4.0 % ±") || !strings.HasPrefix(line.Across[0], "+0.0 %") && !strings.HasPrefix(line.Across[0], "-0.0 %") {
		t.Fatalf("%+v", got)
	}
	// tie levels 0 = 120 and 80 = 40: the run is as long as the scan
	if !strings.HasPrefix(line.Along, "+0.0 %") && !strings.HasPrefix(line.Along, "-0.0 %") {
		t.Errorf("along: %q", line.Along)
	}
	path, err := b.PrintStretch("A4")
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(path)
	if err != nil || !strings.HasPrefix(string(page), "%PDF-") || filepath.Dir(path) != filepath.Join(m.dir, papersDir) {
		t.Errorf("%s: %v", path, err)
	}
}
