package atlas

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func on(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

func due(t testing.TB, l *Library, today time.Time) []Due {
	t.Helper()
	donors, err := l.Donors()
	if err != nil {
		t.Fatal(err)
	}
	rules, err := l.CustodyRules()
	if err != nil {
		t.Fatal(err)
	}
	return custody(t, l).Due(today, donors, rules)
}

// Row CU3: the end of an agreement is told at 180, 90, 30 and 7 days, on the day and overdue, and a hold with it.
func TestCU3Reminders(t *testing.T) {
	l, _ := lab(t)
	receive(t, l, "slab 1", 1000)
	ends := on(2030, time.February, 28) // as lab has it
	for days, want := range map[int]int{181: 999, 180: 180, 91: 180, 90: 90, 31: 90, 30: 30, 8: 30, 7: 7, 1: 7, 0: 0, -1: -1, -400: -1} {
		got := due(t, l, ends.AddDate(0, 0, -days))
		if want == 999 {
			if len(got) != 0 {
				t.Errorf("%d days before: %+v", days, got)
			}
			continue
		}
		if len(got) != 1 || got[0].Step != want || got[0].Days != days || got[0].Overdue() != (days < 0) || got[0].Kind != AgreementDue {
			t.Errorf("%d days before: %+v, want step %d", days, got, want)
		}
	}
	hold := enter(t, l, LedgerEntry{Deed: Keep, Donor: code, Why: "inquiry"})
	got := due(t, l, ends.AddDate(0, 0, 3))
	if len(got) != 1 || !got[0].Held || got[0].Words != "Donor "+code+" is overdue by 3 days, on hold: inquiry" {
		t.Errorf("%+v", got)
	}
	if h := custody(t, l).Holds(code); len(h) != 1 || h[0].Why != "inquiry" {
		t.Errorf("%+v", h)
	}
	_, err := l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Lift, Donor: code, Line: 1, Why: "x"})
	wantErr(t, err, ErrDeed)
	enter(t, l, LedgerEntry{Deed: Lift, Donor: code, Line: hold.Number, Why: "inquiry over"})
	if got := due(t, l, ends); len(got) != 1 || got[0].Held {
		t.Errorf("%+v", got)
	}
}

// Row CU3: loans past the due date are refused, and the date moves back only under a new reference.
func TestCU3OnlyANewAgreementLastsLonger(t *testing.T) {
	l, _ := lab(t)
	slab := receive(t, l, "slab 1", 1000)
	d, err := l.Donor(code)
	if err != nil {
		t.Fatal(err)
	}
	lend := func(until time.Time) error {
		_, err := l.Enter(context.Background(), LedgerEntry{Who: "AB", Deed: Lend, Piece: slab, To: "Room 2", Due: until, Why: "class"})
		return err
	}
	wantErr(t, lend(on(2030, time.March, 1)), ErrDeed)
	first := d.Agreement.Reference
	d.Agreement.Reference, d.Agreement.Ends = "A 2", on(2029, time.January, 1)
	if err := l.Agree("CD", d); err != nil { // sooner is always possible
		t.Fatal(err)
	}
	for _, c := range []struct {
		reference string
		ends      time.Time
	}{{"A 2", on(2029, time.January, 2)}, {first, on(2030, time.February, 28)}, {"", on(2031, time.January, 1)}, {"  ", on(2031, time.January, 1)}, {"A 2", time.Time{}}} {
		d.Agreement.Reference, d.Agreement.Ends = c.reference, c.ends
		wantErr(t, l.Agree("CD", d), ErrSameAgreement)
		wantErr(t, l.SaveDonor(d), ErrSameAgreement)
	}
	d.Agreement.Reference, d.Agreement.Ends = "A 3", on(2031, time.January, 1)
	if err := l.Agree("CD", d); err != nil {
		t.Fatal(err)
	}
	if err := lend(on(2030, time.March, 1)); err != nil {
		t.Error(err)
	}
	all, err := l.AgreementChanges(code)
	if err != nil || len(all) != 3 || all[1].Who != "CD" || all[1].Agreement.Reference != "A 2" || !all[2].Agreement.Ends.Equal(on(2031, time.January, 1)) {
		t.Errorf("%+v, %v", all, err)
	}
	// An agreement made shorter calls loans in with everything else.
	d.Agreement.Ends = on(2027, time.January, 1)
	if err := l.Agree("CD", d); err != nil {
		t.Fatal(err)
	}
	if got := due(t, l, on(2027, time.January, 2)); len(got) != 2 || !got[1].Overdue() || got[1].Kind != LoanDue || got[1].With != "Room 2" {
		t.Errorf("%+v", got)
	}
}

// Row CU3: condition looks at intervals the lab sets, by what is looked at.
func TestCU3ConditionLooks(t *testing.T) {
	l, _ := lab(t)
	ctx := context.Background()
	box := enter(t, l, LedgerEntry{Deed: Provide, To: "shelf", Made: []Made{{Kind: BoxKind, Name: "box 3"}}}).Made[0].Code
	came := on(2027, time.February, 1)
	var codes []string
	for i := range 2 {
		e, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "box 3", Made: []Made{{Kind: SlabPiece, Name: fmt.Sprint("slab ", i+1), Mass: 10}}}, came)
		if err != nil {
			t.Fatal(err)
		}
		codes = append(codes, e.Made[0].Code)
	}
	if got := due(t, l, came.AddDate(1, 0, 0)); len(got) != 0 {
		t.Errorf("no interval is set, but %+v", got)
	}
	if err := l.SetCustodyRules(CustodyRules{LookDays: [3]int{14, 0, 28}}); err != nil {
		t.Fatal(err)
	}
	if err := l.SetCustodyRules(CustodyRules{LookDays: [3]int{-1, 0, 0}}); err == nil {
		t.Error("an interval below nothing was taken")
	}
	if got := due(t, l, on(2027, time.February, 7)); len(got) != 0 {
		t.Errorf("8 days ahead: %+v", got)
	}
	if got := due(t, l, on(2027, time.February, 8)); len(got) != 2 || got[0].Aspect != Wetting || got[0].Step != 7 {
		t.Errorf("7 days ahead: %+v", got)
	}
	// One look at the container counts for all in it, and only for what was looked at.
	_, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Look, Piece: box, Condition: &Condition{Wetting: Good, Wrap: Poor}, Why: "lid torn"}, on(2027, time.February, 15))
	if err != nil {
		t.Fatal(err)
	}
	got := due(t, l, on(2027, time.March, 2))
	if len(got) != 4 || got[0].Words != "Look at the wetting of slab 1 ("+codes[0]+"): overdue by 1 day" || got[1].Aspect != Mould || got[1].Days != -1 {
		t.Errorf("%+v", got)
	}
	p, _ := custody(t, l).Piece(codes[1])
	if p.Looks[Wrap].Seen != Poor || p.Looks[Mould].Seen != NotSeen || !p.Looks[Wrap].Day.Equal(on(2027, time.February, 15)) {
		t.Errorf("%+v", p.Looks)
	}
	if h := custody(t, l).History(codes[1]); len(h) != 2 || h[1].Within != box {
		t.Errorf("the look at the container is no part of the history: %+v", h)
	}
	_, err = l.Enter(ctx, LedgerEntry{Who: "AB", Deed: Look, Piece: box, Condition: &Condition{Mould: "green"}})
	wantErr(t, err, ErrDeed)
}

// Row CU3: days are days wherever they are told; a leap day counts.
func TestCU3DaysAreCivil(t *testing.T) {
	// Days from one date to another, by the proleptic Gregorian day count of Fliegel and Van Flandern (1968).
	julian := func(t time.Time) int {
		y, m, d := t.Year(), int(t.Month()), t.Day()
		a := (m - 14) / 12
		return 1461*(y+4800+a)/4 + 367*(m-2-12*a)/12 - 3*((y+4900+a)/100)/4 + d - 32075
	}
	rapid.Check(t, func(t *rapid.T) {
		any := func(name string) time.Time {
			zone := time.FixedZone("", rapid.IntRange(-12*4, 14*4).Draw(t, name+" zone")*900)
			return time.Date(rapid.IntRange(1990, 2200).Draw(t, name), time.Month(rapid.IntRange(1, 12).Draw(t, name+" month")),
				rapid.IntRange(1, 31).Draw(t, name+" day"), rapid.IntRange(0, 23).Draw(t, name+" hour"), 30, 0, 0, zone)
		}
		today, ends := any("today"), any("ends")
		days, _ := Agreement{Ends: ends}.DueIn(today)
		if want := julian(ends) - julian(today); days != want {
			t.Fatalf("%v to %v: %d days, want %d", today, ends, days, want)
		}
	})
	l, _ := lab(t)
	slab := receive(t, l, "slab 1", 10)
	// A loan for this very day, late in the evening west of Greenwich, where UTC has the next day already.
	evening := time.Date(2029, 2, 28, 23, 30, 0, 0, time.FixedZone("", -9*3600))
	e, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Lend, Piece: slab, To: "Room 2", Due: evening, Why: "class"}, evening)
	if err != nil || e.Day != "2029-02-28" || !e.Due.Equal(on(2029, time.February, 28)) || e.At.Day() != 1 {
		t.Errorf("%+v, %v", e, err)
	}
	if got := due(t, l, evening); len(got) != 1 || got[0].Days != 0 {
		t.Errorf("%+v", got)
	}
}

// Row CU3: a clock set back since the last line is said, and reminders do not fall silent; a line entered under a clock set
// far ahead can be taken back, and its time with it.
func TestCU3ClockSetBack(t *testing.T) {
	l, _ := lab(t)
	made := []Made{{Kind: SlabPiece, Name: "slab 1", Mass: 10}}
	noon := time.Date(2030, 3, 10, 12, 0, 0, 0, time.UTC) // after the end of the agreement
	a, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Receive, Donor: code, To: "x", Made: made}, noon)
	if err != nil {
		t.Fatal(err)
	}
	c := custody(t, l)
	today, back := c.Today(noon.AddDate(-3, 0, 0))
	if !back || !today.Equal(on(2030, time.March, 10)) {
		t.Errorf("%v, %v", today, back)
	}
	if got := due(t, l, today); len(got) != 1 || got[0].Days != -10 {
		t.Errorf("%+v", got)
	}
	if _, back := c.Today(noon.Add(time.Hour)); back {
		t.Error("a clock that goes forward was said to be set back")
	}
	b, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Move, Piece: a.Made[0].Code, To: "y", Why: "x"}, noon.AddDate(-3, 0, 0))
	if err != nil || !b.ClockBack || !b.At.Equal(noon) || b.Day != "2030-03-10" || !strings.HasSuffix(b.When(), "clock set back") {
		t.Errorf("%+v, %v", b, err)
	}
	ahead, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Move, Piece: a.Made[0].Code, To: "z", Why: "x"}, noon.AddDate(70, 0, 0))
	if err != nil {
		t.Fatal(err)
	}
	undo, err := enterAt(l, LedgerEntry{Who: "AB", Deed: Undo, Line: ahead.Number, Why: "the clock was wrong"}, noon.Add(time.Hour))
	if err != nil || undo.ClockBack || !undo.At.Equal(noon.Add(time.Hour)) {
		t.Errorf("%+v, %v", undo, err)
	}
	if today, back := custody(t, l).Today(noon.Add(2 * time.Hour)); back || !today.Equal(on(2030, time.March, 10)) {
		t.Errorf("%v, %v", today, back)
	}
}

// readCalendar is what icalendar, a reader by others, finds in a file.
const readCalendar = `
import sys, json, icalendar
c = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
out = []
for e in c.walk("VEVENT"):
    out.append({"uid": str(e["UID"]), "day": e["DTSTART"].dt.isoformat(), "end": e["DTEND"].dt.isoformat(), "words": str(e["SUMMARY"]),
        "alarms": [int(-a["TRIGGER"].dt.days) for a in e.walk("VALARM")], "date": e["DTSTART"].params.get("VALUE"), "stamp": e["DTSTAMP"].dt.isoformat()})
print(json.dumps(out))`

type readEvent struct {
	UID, Day, End, Words, Date, Stamp string
	Alarms                            []int
}

// icalendar reads a file by python3-icalendar; tests skip without it.
func icalendar(t *testing.T, file []byte) (out []readEvent) {
	t.Helper()
	python := "/usr/bin/python3"
	if exec.Command(python, "-c", "import icalendar").Run() != nil {
		t.Skip("python3-icalendar is not installed")
	}
	c := exec.Command(python, "-c", readCalendar)
	c.Stdin = bytes.NewReader(file)
	text, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// rfc5545 checks what the standard asks of lines: CRLF (3.1), at most 75 octets, whole characters, no bare controls.
func rfc5545(t *testing.T, file []byte) {
	t.Helper()
	if !bytes.HasSuffix(file, []byte("\r\n")) || strings.Count(string(file), "\n") != strings.Count(string(file), "\r\n") {
		t.Error("lines do not end in CRLF")
	}
	for _, line := range strings.Split(strings.TrimSuffix(string(file), "\r\n"), "\r\n") {
		if len(line) > 75 || !validLine(line) {
			t.Errorf("line of %d octets: %q", len(line), line)
		}
	}
}

func validLine(s string) bool {
	return strings.ToValidUTF8(s, "\x00") == s && !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7F })
}

// Row CU3 and the list of outside formats: the due days as an iCalendar file, with no more of the donor than the lab chose.
func TestCU3Calendar(t *testing.T) {
	l, _ := lab(t)
	if err := l.SetCustodyRules(CustodyRules{LookDays: [3]int{14, 0, 0}}); err != nil {
		t.Fatal(err)
	}
	slab := receive(t, l, "slab 1", 1000)
	receive(t, l, "slab 2", 1000)
	receive(t, l, "slab 3", 1000)
	until := civil(time.Now()).AddDate(0, 0, 40)
	enter(t, l, LedgerEntry{Deed: Lend, Piece: slab, To: "Dr Miller", Due: until})
	write := func() []byte {
		var b bytes.Buffer
		if err := l.WriteCalendar(context.Background(), &b, time.Date(2027, 1, 2, 3, 4, 5, 0, time.FixedZone("", 3600))); err != nil {
			t.Fatal(err)
		}
		rfc5545(t, b.Bytes())
		return b.Bytes()
	}
	file := write()
	for _, word := range []string{code, "Miller", "slab 1"} {
		if bytes.Contains(file, []byte(word)) {
			t.Errorf("the calendar says %q", word)
		}
	}
	got := icalendar(t, file)
	if len(got) != 3 {
		t.Fatalf("%+v", got)
	}
	byDay := map[string]readEvent{}
	for _, e := range got {
		byDay[e.Day] = e
		if e.Date != "DATE" || e.Stamp != "2027-01-02T02:04:05+00:00" {
			t.Errorf("%+v", e)
		}
	}
	ends := byDay["2030-02-28"]
	if !slices.Equal(ends.Alarms, Reminders) || ends.End != "2030-03-01" || !strings.HasPrefix(ends.Words, "Due back: ") {
		t.Errorf("%+v", ends)
	}
	if e := byDay[until.Format(day)]; e.Words != "Loan due back: item "+slab {
		t.Errorf("%+v", e)
	}
	if e := byDay[civil(time.Now()).AddDate(0, 0, 14).Format(day)]; e.Words != "Condition look, wetting: 2 pieces" {
		t.Errorf("%+v", e)
	}
	if err := l.SetCustodyRules(CustodyRules{CalendarCodes: true}); err != nil {
		t.Fatal(err)
	}
	again := icalendar(t, write())
	if len(again) != 2 || !slices.ContainsFunc(again, func(e readEvent) bool { return e.UID == ends.UID && e.Words == "Due back: "+code }) {
		t.Errorf("%+v", again)
	}
}

// Any words come back from the file as they were, but for control characters.
func TestCalendarText(t *testing.T) {
	words := []string{"Rückgabe; Kühlraum, Regal\\3 \"links\" – " + strings.Repeat("Ä", 80), "two\nlines", "標本の返却" + strings.Repeat("棚", 40), "a\x07b"}
	var events []calendarEvent
	for i, w := range words {
		events = append(events, calendarEvent{about: fmt.Sprint(i), day: on(2028, 2, 29), words: w, alarm: []int{1}})
	}
	var b bytes.Buffer
	if err := writeCalendar(&b, events, func(s string) string { return "uid-" + s }, time.Now(), 0); err != nil {
		t.Fatal(err)
	}
	rfc5545(t, b.Bytes())
	for i, e := range icalendar(t, b.Bytes()) {
		if want := strings.ReplaceAll(words[i], "\x07", ""); e.Words != want || e.End != "2028-03-01" {
			t.Errorf("%+v, want %q", e, want)
		}
	}
}

func FuzzCalendarLines(f *testing.F) {
	f.Add("SUMMARY:Rückgabe")
	f.Fuzz(func(t *testing.T, s string) {
		line := fold("SUMMARY:" + escape(s))
		rfc5545(t, []byte(line))
		if got := strings.ReplaceAll(strings.TrimSuffix(line, "\r\n"), "\r\n ", ""); got != "SUMMARY:"+escape(s) {
			t.Errorf("%q", got)
		}
	})
}
