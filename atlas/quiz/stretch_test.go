package quiz

import (
	"bytes"
	"math"
	"os/exec"
	"strings"
	"testing"
	"time"

	"sectionary/slices/register"
	"sectionary/slices/section"
)

// MS3: the page carries every figure with its error, the words and the caution, as pdftotext reads it.
func TestMS3StretchPage(t *testing.T) {
	rows := []register.SlabStretch{
		{Slab: 7, Along: &register.Percent{Value: -1.96, SE: 1.6}, Across: [2]*register.StretchAcross{{Way: "side to side", Percent: register.Percent{Value: 1, SE: 0.2}}, {Way: "front to back", Percent: register.Percent{Value: -3, SE: 0.3}}},
			Words: []string{"this slab is 3.0 % shorter front to back than the scan"}},
		{Slab: 8, Along: &register.Percent{Value: -0.5, SE: math.NaN()}},
	}
	var file bytes.Buffer
	if err := WriteStretch(&file, section.Run{Donor: "SH-31", Part: "trunk", Plane: section.Transverse}, rows, time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), "A4"); err != nil {
		t.Fatal(err)
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed")
	}
	c := exec.Command(tool, "-layout", "-", "-")
	c.Stdin = &file
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	words := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{"SH-31, trunk, transverse", "Front to back", "7 -2.0 % ± 1.6 +1.0 % ± 0.2 -3.0 % ± 0.3", "8 -0.5 % not told not told",
		"Slab 7: this slab is 3.0 % shorter front to back than the scan.", "For teaching. Not for diagnosis.", "For use inside the lab"} {
		if !strings.Contains(words, want) {
			t.Errorf("%q is not on the page: %s", want, words)
		}
	}
}
