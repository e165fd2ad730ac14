package frametest

import (
	"errors"
	"strings"
	"testing"

	"sectionary/slices/scan/codec"
)

// Refusal is a frame or description that must be refused, with the error and a
// word of its text.
type Refusal struct {
	Name string
	Data []byte
	Want codec.Want
	Err  error
	Word string
}

// Refuse checks refusals.
func Refuse(t *testing.T, decode Decoder, list []Refusal) {
	for _, r := range list {
		_, err := decode(r.Data, r.Want)
		if !errors.Is(err, r.Err) || !strings.Contains(err.Error(), r.Word) {
			t.Errorf("%s: error %q, want %q with the word %q", r.Name, err, r.Err, r.Word)
		}
	}
}

// WrongSizes are the refusals every decoder owes: sizes that are not the
// frame's, claims no frame of its length can meet, and impossible ones.
func WrongSizes(c Case) []Refusal {
	with := func(change func(*codec.Want)) codec.Want {
		w := c.Want
		change(&w)
		return w
	}
	return []Refusal{
		{"one column less", c.Data, with(func(w *codec.Want) { w.Columns-- }), codec.ErrMismatch, ""},
		{"half the rows", c.Data, with(func(w *codec.Want) { w.Rows /= 2 }), codec.ErrMismatch, ""},
		{"three samples or one", c.Data, with(func(w *codec.Want) { w.SamplesPerPixel = 4 - w.SamplesPerPixel }), codec.ErrMismatch, ""},
		{"above the limit", c.Data, with(func(w *codec.Want) { w.Rows, w.Columns = 65535, 65535 }), codec.ErrTooLarge, "limit"},
		{"no rows", c.Data, with(func(w *codec.Want) { w.Rows = 0 }), codec.ErrCorrupt, "rows"},
		{"two samples", c.Data, with(func(w *codec.Want) { w.SamplesPerPixel = 2 }), codec.ErrUnsupported, "samples"},
		{"stored above allocated", c.Data, with(func(w *codec.Want) { w.BitsStored = 33 }), codec.ErrCorrupt, "stored"},
		{"no data", nil, c.Want, codec.ErrCorrupt, ""},
	}
}

// Patch returns the data of a case with the first occurrence of one byte
// string replaced by another.
func (c Case) Patch(t testing.TB, old, new string) []byte {
	i := strings.Index(string(c.Data), old)
	if i < 0 {
		t.Fatalf("%s holds no % x", c.Name, old)
	}
	return []byte(string(c.Data[:i]) + new + string(c.Data[i+len(old):]))
}

// Named returns the case of that name.
func Named(t testing.TB, cases []Case, name string) Case {
	for _, c := range cases {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("no case %s", name)
	return Case{}
}
