package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/photo/phototest"
	"sectionary/slices/section"
)

// sectionFiles are the real section photographs of ../shared/data/section-frames in a folder that goes with the test, and the
// run of slices that they are of: the number of a frame is mm along the body.
func sectionFiles(t *testing.T) (files []string, run section.Run) {
	files, mm, err := phototest.SectionFrames("../../../shared/data/section-frames", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		t.Skip("real data is not here: ../shared/data/section-frames")
	}
	run = section.Run{ID: "trunk", Part: "trunk", Plane: section.Transverse, First: section.Superior}
	for k, n := range mm {
		if k > 0 {
			run.Slabs[k-1].Thickness[0] = float64(n - mm[k-1])
		}
		run.Slabs = append(run.Slabs, section.Slab{Number: n, Thickness: [3]float64{8}})
	}
	return files, run
}

// said runs the prompt and reads its one JSON document.
func said(t *testing.T, want int, into any, args ...string) {
	t.Helper()
	var out, notes bytes.Buffer
	if got := run(append(args, "-json"), &out, &notes); got != want {
		t.Fatalf("%v: status %d: %s", args[:2], got, notes.String())
	}
	if into != nil {
		if err := json.Unmarshal(out.Bytes(), into); err != nil {
			t.Fatal(err)
		}
	}
}

// Real sections are laid as a run in one move, and the run check names the face of the block join (frames 506, half cut, and
// 507, smeared) and none of the other 53.
func TestRealSectionsLaidInOneMove(t *testing.T) {
	files, cut := sectionFiles(t)
	raw, err := json.Marshal(cut)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	lib, file := filepath.Join(dir, "lib"), filepath.Join(dir, "run.json")
	if err := os.WriteFile(file, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	said(t, 0, nil, "new", lib, "-donor", "VH-01", "-in", file)
	var laid struct {
		Laid, Left  int
		Photographs []laidPhoto
	}
	lay := append([]string{"lay", lib, "trunk", "-pattern", "one-per-slab", "-first", "superior", "-up", "P"}, files...)
	said(t, 1, nil, lay...) // they do not tell when they were taken, and a name is no order
	lay = append(lay, "-by", "given")
	said(t, 0, &laid, append(lay, "-look")...)
	if laid.Laid != len(files) {
		t.Fatalf("%d of %d would be laid", laid.Laid, len(files))
	}
	said(t, 0, &laid, lay...)
	if laid.Laid != len(files) || laid.Left != 0 || laid.Photographs[15].Face != "slab 500, upper face" {
		t.Fatalf("%d laid, %d left, %+v", laid.Laid, laid.Left, laid.Photographs[15])
	}
	var checked runAnswer
	said(t, 0, &checked, "runcheck", "-lib", lib, "-run", "trunk")
	flagged := map[int]bool{}
	for _, u := range checked.Unlike {
		flagged[u.Slab] = true
		t.Log(u.Words)
	}
	if checked.Compared != len(files) || !flagged[506] {
		t.Fatalf("%d compared, flagged %v", checked.Compared, flagged)
	}
	for n := range flagged {
		if n != 506 && n != 507 {
			t.Errorf("frame %d is flagged for nothing", n)
		}
	}
}
