package frametest

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Real decodes the frames of one codec that testdata/codec/real.csv lists:
// files of ../shared/data and those Debian's python3-pydicom ships. Where
// neither is at hand the test is skipped.
func Real(t *testing.T, decode Decoder, codecName string) {
	root := Root(t)
	bases := map[string]string{
		"shared":  filepath.Join(root, "..", "shared", "data"),
		"pydicom": "/usr/lib/python3/dist-packages/pydicom/data/test_files",
	}
	counts := map[string]int{}
	rows := Table(t, filepath.Join(root, "testdata", "codec", "real.csv"))
	for _, r := range rows {
		counts[r["where"]+r["file"]]++
	}
	frames := map[string][][]byte{}
	checked, absent := 0, 0
	for _, r := range rows {
		if r["codec"] != codecName {
			continue
		}
		key := r["where"] + r["file"]
		if _, read := frames[key]; !read {
			file, err := os.ReadFile(filepath.Join(bases[r["where"]], filepath.FromSlash(r["file"])))
			if errors.Is(err, fs.ErrNotExist) {
				absent++
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			if frames[key], err = Frames(file, counts[key]); err != nil {
				t.Errorf("%s: %v", r["file"], err)
				frames[key] = nil
			}
		}
		checked += realFrame(t, decode, r, frames[key])
	}
	if checked == 0 && absent > 0 {
		t.Skip("no listed file is at hand: neither ../shared/data nor python3-pydicom's")
	}
	t.Logf("%d frames equal, %d absent", checked, absent)
}

// realFrame checks one row and returns 1 when it holds. A row without a digest
// is a frame no outside decoder reads: it must be an error here too.
func realFrame(t *testing.T, decode Decoder, r map[string]string, frames [][]byte) int {
	k, err := strconv.Atoi(r["frame"])
	if err != nil {
		t.Fatal(err)
	}
	if k--; k >= len(frames) {
		return 0
	}
	want := WantOf(t, r)
	f, err := decode(frames[k], want)
	switch {
	case r["sha256"] == "" && err == nil:
		t.Errorf("%s frame %d: decoded, though no outside decoder reads it", r["file"], k+1)
	case r["sha256"] == "":
		return 1
	case err != nil:
		t.Errorf("%s frame %d: %v", r["file"], k+1, err)
	case Digest(f, want.BitsStored) != r["sha256"]:
		t.Errorf("%s frame %d: samples differ from those of %s", r["file"], k+1, r["decoder"])
	default:
		return 1
	}
	return 0
}
