package atlas

import (
	"errors"
	"strings"
	"testing"
	"time"
)

// The nine purposes, each recorded as permitted, recorded as not, not recorded, and ended.
func TestPurposes(t *testing.T) {
	if len(Purposes) != 9 {
		t.Fatalf("%d purposes", len(Purposes))
	}
	today := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	ends := today.AddDate(1, 0, 0)
	for _, p := range Purposes {
		for name, c := range map[string]struct {
			a    Agreement
			want bool
		}{
			"recorded":            {Agreement{Ends: ends, Permitted: map[Purpose]bool{p: true}}, true},
			"recorded, no end":    {Agreement{Permitted: map[Purpose]bool{p: true}}, true},
			"recorded as not":     {Agreement{Ends: ends, Permitted: map[Purpose]bool{p: false}}, false},
			"not recorded":        {Agreement{Ends: ends}, false},
			"others recorded":     {Agreement{Ends: ends, Permitted: allBut(p)}, false},
			"ended":               {Agreement{Ends: today.AddDate(0, 0, -1), Permitted: map[Purpose]bool{p: true}}, false},
			"its last day":        {Agreement{Ends: today.Add(-12 * time.Hour), Permitted: map[Purpose]bool{p: true}}, true},
			"ended, not recorded": {Agreement{Ends: today.AddDate(0, 0, -1)}, false},
		} {
			err := c.a.Permits(p, today)
			if (err == nil) != c.want {
				t.Errorf("%s, %s: %v", p, name, err)
			}
			if err != nil {
				wantErr(t, err, ErrNotPermitted)
			}
		}
	}
	if err := (Agreement{Permitted: map[Purpose]bool{"resale": true}}).Permits("resale", today); err == nil {
		t.Error("a purpose that does not exist was permitted")
	}
}

func allBut(p Purpose) map[Purpose]bool {
	all := map[Purpose]bool{}
	for _, q := range Purposes {
		all[q] = q != p
	}
	return all
}

func TestTheRefusalSaysWhatToDo(t *testing.T) {
	l, _ := lab(t)
	today := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	for p, want := range map[Purpose]string{
		PublicWeb: "May not leave: 'public web' is not in this donor's agreement. In-house teaching and in-house exam are. Only the donor office can change this.",
	} {
		var r *Refusal
		if err := l.Permits(code, p, today); !errors.As(err, &r) || r.Sentence != want {
			t.Errorf("%v\nwant %s", err, want)
		}
	}
	if err := l.Permits(code, Teaching, today); err != nil {
		t.Error(err)
	}
	if err := l.Permits(code, Teaching, today.AddDate(10, 0, 0)); err == nil || !strings.Contains(err.Error(), "ended on 28 February 2030") {
		t.Error(err)
	}
	wantErr(t, l.Permits("NOBODY-1", Teaching, today), ErrNotFound)
	// A leap day: the agreement holds through 29 February and not on 1 March.
	leap := Agreement{Ends: time.Date(2028, 2, 29, 0, 0, 0, 0, time.UTC), Permitted: map[Purpose]bool{Teaching: true}}
	if err := leap.Permits(Teaching, time.Date(2028, 2, 29, 23, 59, 0, 0, time.FixedZone("", 14*3600))); err != nil {
		t.Error(err)
	}
	if err := leap.Permits(Teaching, time.Date(2028, 3, 1, 0, 0, 0, 0, time.UTC)); err == nil {
		t.Error("the day after the last was permitted")
	}
}

func TestTheRecordOnlyGrows(t *testing.T) {
	l, _ := lab(t)
	h := HandOut{ID: "7K2M", When: now(), Purpose: Teaching, Donor: code, Plates: []string{"P1"}, Allowed: true, Files: []string{"a.png 00"}}
	no := HandOut{ID: "9QRS", When: now(), Purpose: PublicWeb, Donor: code, Reason: "not in the agreement"}
	if err := l.Record(h, no); err != nil {
		t.Fatal(err)
	}
	got, err := l.HandOuts()
	if err != nil || len(got) != 2 || asJSON(t, got[0]) != asJSON(t, h) || got[1].Reason != no.Reason {
		t.Errorf("%v: %s", err, asJSON(t, got))
	}
}

// A code must be long enough to be searched for in hand-outs.
func TestDonorCodes(t *testing.T) {
	for code, want := range map[string]bool{"SH-31M": true, "A7K": true, "a.b_c": true, "": false, "A7": false, "--7": false, "A-7": false,
		"Žof": false, "A 71": false, "A/71": false, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456": false} {
		if err := CheckCode(code); (err == nil) != want {
			t.Errorf("%q: %v", code, err)
		}
	}
}
