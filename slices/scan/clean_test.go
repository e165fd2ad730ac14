package scan

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf16"
)

// stored returns every byte that a library would keep of a cleaned volume.
func stored(t *testing.T, c *Cleaner, s Series, v *Volume) []byte {
	t.Helper()
	var out bytes.Buffer
	c.Volume(v)
	record, err := json.Marshal(c.Series(s).Record())
	if err != nil {
		t.Fatal(err)
	}
	out.Write(record)
	if err := v.WriteSide(&out); err != nil {
		t.Fatal(err)
	}
	if err := v.WriteNIfTI(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// holds reports whether text stands in data, as UTF-8 or UTF-16 of either byte order.
func holds(data []byte, text string) bool {
	var little, big []byte
	for _, u := range utf16.Encode([]rune(text)) {
		little, big = append(little, byte(u), byte(u>>8)), append(big, byte(u>>8), byte(u))
	}
	return bytes.Contains(data, []byte(text)) || bytes.Contains(data, little) || bytes.Contains(data, big)
}

// TestCleanTruth: nothing of deid_input.dcm is left (deid.json, DICOM PS3.15 Table E.1-1; residue list from there).
func TestCleanTruth(t *testing.T) {
	data, err := os.ReadFile(truth(t, "deid_input.dcm"))
	if err != nil {
		t.Fatal(err)
	}
	s, v := only(t, fstest.MapFS{"DOE_JANE/MRN0001.dcm": {Data: data}})
	if v.Value(1, 1, 0) != 3-1024 || s.UID != "1.2.3.4.5" {
		t.Fatalf("value %g of %s", v.Value(1, 1, 0), s.UID)
	}
	out := stored(t, NewCleaner([]byte("secret")), s, v)
	for _, residue := range []string{"DOE", "JANE", "Doe", "MRN0001", "SECRET", "ACC1", "1.2.3.4", "19441231", "20240102", "HOSPITAL", "SN5", "CT01",
		"ALT77", "WHO", "ACME", "AX 1.0", "CHEST", "comment"} {
		if holds(out, residue) {
			t.Errorf("%q is left", residue)
		}
	}
	if !strings.HasPrefix(v.UID, "2.25.") || !strings.Contains(string(out), "113100") {
		t.Errorf("uid %s", v.UID)
	}
}

// TestCleanEveryAttribute: a file that carries a mark in each attribute of PS3.15 Table E.1-1 (edition 2024e), in private
// groups, curves and overlays, leaves none of them behind.
func TestCleanEveryAttribute(t *testing.T) {
	hex := regexp.MustCompile(`^\(([0-9A-Fa-f]{4}),([0-9A-Fa-f]{4})\)$`)
	marks := []string{}
	mark := func() string {
		marks = append(marks, fmt.Sprintf("Q%dZ", 10000+len(marks)))
		return marks[len(marks)-1]
	}
	rows := readTable(t, truth(t, "ps3_15_E1-1.csv"))[1:]
	file := slice{series: "1.98765432.1", sop: "1.98765432.2", more: func(b *build) {
		for _, row := range rows {
			m := hex.FindStringSubmatch(row[0])
			if m == nil {
				continue
			}
			group, _ := strconv.ParseUint(m[1], 16, 16)
			element, _ := strconv.ParseUint(m[2], 16, 16)
			b.text(tag(group<<16|element), "LT", mark())
		}
		for _, x := range []tag{0x00091001, 0x50000010, 0x60003000, 0x60004000, 0x00281055, 0x00200052} {
			b.text(x, "LT", mark())
		}
	}}.file()
	s, v := only(t, fstest.MapFS{"name of a person": file})
	if len(marks) < 600 {
		t.Fatalf("only %d attributes were marked", len(marks))
	}
	out := stored(t, NewCleaner([]byte("secret")), s, v)
	for _, m := range marks {
		if holds(out, m) {
			t.Errorf("%s is left", m)
		}
	}
	for _, x := range []string{"98765432", "name of a person"} {
		if holds(out, x) {
			t.Errorf("%s is left", x)
		}
	}
}

// TestCleanUIDs: the same UID becomes the same new one, others others, and another library's secret gives another.
func TestCleanUIDs(t *testing.T) {
	a, b := NewCleaner([]byte("one")), NewCleaner([]byte("two"))
	if again := NewCleaner([]byte("one")); a.UID("1.2.3") != again.UID("1.2.3") || a.UID("1.2.3") == a.UID("1.2.4") || a.UID("1.2.3") == b.UID("1.2.3") || a.UID("") != "" {
		t.Error("UIDs are not replaced consistently")
	}
	for i := range 200 {
		uid := a.UID(fmt.Sprint("1.2.", i))
		if !regexp.MustCompile(`^2\.25\.(0|[1-9][0-9]*)$`).MatchString(uid) || len(uid) > 64 { // PS3.5 9.1, B.2
			t.Errorf("%s is no UID", uid)
		}
	}
}

// TestSourceUntouched: surveying and loading leave the folder as it was.
func TestSourceUntouched(t *testing.T) {
	dir := t.TempDir()
	want := writeInvented(t, 3)
	if err := os.WriteFile(dir+"/a.dcm", want, 0o400); err != nil {
		t.Fatal(err)
	}
	only(t, os.DirFS(dir))
	got, err := os.ReadFile(dir + "/a.dcm")
	entries, _ := os.ReadDir(dir)
	if err != nil || !bytes.Equal(got, want) || len(entries) != 1 {
		t.Errorf("%v: the folder changed", err)
	}
}
