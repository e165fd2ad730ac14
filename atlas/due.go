package atlas

import (
	"fmt"
	"slices"
	"time"
)

// dayWords is how days are written for people.
const dayWords = "2 January 2006"

// civil is the calendar day of t where t was told, as midnight UTC, so that days can be compared and counted.
func civil(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// daysBetween counts calendar days from one day to another.
func daysBetween(from, to time.Time) int { return int(civil(to).Sub(civil(from)).Hours() / 24) }

// Reminders are the days before an agreement ends at which people are told, the nearest first.
var Reminders = []int{7, 30, 90, 180}

// step is the nearest reminder that days fall under, -1 when overdue and 0 on the day; ok is false while the day is
// farther off than the first reminder.
func step(days int) (n int, ok bool) {
	if days < 0 {
		return -1, true
	}
	if days == 0 {
		return 0, true
	}
	for _, r := range Reminders {
		if days <= r {
			return r, true
		}
	}
	return 0, false
}

// DueIn counts the days from today to the last day of the agreement, negative when it has passed. ok is false when no
// day is recorded. Both are calendar days, so time zones and leap days cannot shift them.
func (a Agreement) DueIn(today time.Time) (days int, ok bool) {
	if a.Ends.IsZero() {
		return 0, false
	}
	return daysBetween(today, a.Ends), true
}

// Reminder is what to say of an agreement's end on a day, "" while it is more than 180 days off or not recorded.
func (a Agreement) Reminder(today time.Time) string {
	days, ok := a.DueIn(today)
	if !ok {
		return ""
	}
	if _, ok := step(days); !ok {
		return ""
	}
	return backWords(days)
}

func backWords(days int) string {
	switch {
	case days < 0:
		return "overdue by " + count(-days, "day")
	case days == 0:
		return "due back today"
	}
	return "due back in " + count(days, "day")
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// DueKind is what falls due.
type DueKind string

// The kinds of due day.
const (
	AgreementDue DueKind = "agreement" // everything of the donor goes back
	LoanDue      DueKind = "loan"      // a piece comes back from a borrower
	LookDue      DueKind = "look"      // a condition look is due
)

// Due is one thing that falls due, or is on hold.
type Due struct {
	Kind   DueKind   `json:"kind"`
	Donor  string    `json:"donor"`
	Code   string    `json:"code"`   // of the piece
	Name   string    `json:"name"`   // of the piece or donor
	With   string    `json:"with"`   // the borrower
	Aspect Aspect    `json:"aspect"` // of LookDue
	Day    time.Time `json:"day,omitzero"`
	Days   int       `json:"days"`  // to go, negative when overdue
	Step   int       `json:"step"`  // the reminder reached: 180, 90, 30, 7, 0 on the day, -1 overdue
	Held   bool      `json:"held"`  // the donor is on hold
	Words  string    `json:"words"` // the whole of it in one plain phrase
}

// Overdue reports whether the day has passed.
func (d Due) Overdue() bool { return d.Days < 0 }

// Today is the day to reckon with: that of the clock, or of the last line that stands when the clock is behind it;
// back is then true, and reminders stay on the safe side.
func (c Custody) Today(clock time.Time) (today time.Time, back bool) {
	today = civil(clock)
	if last, ok := c.last(0); ok && last.day().After(today) {
		return last.day(), true
	}
	return today, false
}

// last is the last line that stands, line but itself not counted.
func (c Custody) last(but int) (LedgerEntry, bool) {
	for i := len(c.entries) - 1; i >= 0; i-- {
		e := c.entries[i]
		if !c.undone[e.Number] && e.Number != but {
			return e, true
		}
	}
	return LedgerEntry{}, false
}

// Due lists what is overdue or has reached a reminder on a day, the most pressing first. Looks are listed from the day
// their reminder of 7 days is reached. A donor that went back is not listed.
func (c Custody) Due(today time.Time, donors []Donor, rules CustodyRules) (out []Due) {
	today = civil(today)
	ends := map[string]time.Time{}
	for _, d := range donors {
		ends[d.Code] = d.Agreement.Ends
		days, ok := d.Agreement.DueIn(today)
		if at, near := step(days); ok && near && !c.Returned(d.Code) {
			x := Due{Kind: AgreementDue, Donor: d.Code, Name: d.Code, Day: civil(d.Agreement.Ends), Days: days, Step: at, Held: len(c.holds[d.Code]) > 0}
			x.Words = "Donor " + d.Code + " is " + backWords(days)
			if x.Held {
				x.Words += ", on hold: " + c.holds[d.Code][0].Why
			}
			out = append(out, x)
		}
	}
	for _, p := range c.Pieces("") {
		if !p.Here() {
			continue
		}
		if p.Loan != "" {
			if x, near := loanDue(p, today, civil(ends[p.Donor])); near {
				out = append(out, x)
			}
		} else if !p.Missing {
			out = append(out, c.looks(p, today, rules)...)
		}
	}
	slices.SortStableFunc(out, func(a, b Due) int { return a.Days - b.Days })
	return out
}

// loanDue is what is due of a piece on loan: on its own day, or with its donor's when an agreement was shortened since.
func loanDue(p Piece, today, ends time.Time) (Due, bool) {
	day, words := p.Due, ""
	if !ends.IsZero() && ends.Before(day) {
		day, words = ends, ", with everything of the donor"
	}
	days := daysBetween(today, day)
	at, near := step(days)
	return Due{Kind: LoanDue, Donor: p.Donor, Code: p.Code, Name: p.Name, With: p.Loan, Day: day, Days: days, Step: at,
		Words: capital(p.Name) + " (" + p.Code + "), on loan to " + p.Loan + ", is " + backWords(days) + words}, near
}

// soon is how many days ahead a condition look is listed.
const soon = 7

// looks lists the looks due of a piece that is here.
func (c Custody) looks(p Piece, today time.Time, rules CustodyRules) (out []Due) {
	for _, a := range Aspects {
		day, ok := p.nextLook(a, rules)
		days := daysBetween(today, day)
		at, near := step(days)
		if !ok || !near || days > soon {
			continue
		}
		when := "in " + count(days, "day")
		if days == 0 {
			when = "today"
		} else if days < 0 {
			when = "overdue by " + count(-days, "day")
		}
		out = append(out, Due{Kind: LookDue, Donor: p.Donor, Code: p.Code, Name: p.Name, Aspect: a, Day: day, Days: days, Step: at,
			Words: fmt.Sprintf("Look at the %s of %s (%s): %s", a, p.Name, p.Code, when)})
	}
	return out
}

// nextLook is the day on which an aspect of a piece is to be looked at again; ok is false when the lab set no interval.
func (p Piece) nextLook(a Aspect, rules CustodyRules) (day time.Time, ok bool) {
	if rules.LookDays[a] <= 0 {
		return day, false
	}
	from := p.Looks[a].Day
	if from.IsZero() {
		from = p.Came
	}
	return from.AddDate(0, 0, rules.LookDays[a]), true
}
