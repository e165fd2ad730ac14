package atlas

import (
	"bufio"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// calendarEvent is one all-day event of the due days.
type calendarEvent struct {
	about string // what it is about, the same as long as it is the same thing: the UID is made from it
	day   time.Time
	words string
	alarm []int // days before it at which people are told
}

// WriteCalendar writes the days on which something falls due as an iCalendar file (RFC 5545): ends of agreements, loans,
// condition looks. Donors go by their lab codes if the lab's rules say so, else by codes made for calendars alone; nothing
// else of a donor is in it, nor who borrowed. The same thing keeps its UID, so that a later file moves its day. clock is
// the time of writing.
func (l *Library) WriteCalendar(ctx context.Context, w io.Writer, clock time.Time) error {
	c, err := l.Custody(ctx)
	if err != nil {
		return err
	}
	donors, err := l.Donors()
	if err != nil {
		return err
	}
	rules, err := l.CustodyRules()
	if err != nil {
		return err
	}
	secret, err := l.db.Meta("secret")
	if err != nil {
		return err
	}
	digest := func(s string) []byte {
		mac := hmac.New(sha256.New, []byte(secret))
		mac.Write([]byte("calendar\n" + s))
		return mac.Sum(nil)
	}
	name := func(donor string) string {
		if rules.CalendarCodes {
			return donor
		}
		return CodeOf(digest("donor "+donor), 5)
	}
	var events []calendarEvent
	for _, d := range donors {
		if !d.Agreement.Ends.IsZero() && !c.Returned(d.Code) {
			x := calendarEvent{about: "agreement " + d.Code, day: d.Agreement.Ends, words: "Due back: " + name(d.Code), alarm: Reminders}
			if len(c.holds[d.Code]) > 0 {
				x.words += " (on hold)"
			}
			events = append(events, x)
		}
	}
	events = append(events, c.pieceEvents(rules)...)
	uid := func(about string) string { return hex.EncodeToString(digest(about)[:16]) }
	return writeCalendar(w, events, uid, clock, c.Len())
}

// pieceEvents are the loans, one by one, and the condition looks, one for each day and aspect.
func (c Custody) pieceEvents(rules CustodyRules) (out []calendarEvent) {
	type look struct {
		aspect Aspect
		day    time.Time
	}
	looks := map[look]int{}
	for _, p := range c.Pieces("") {
		switch {
		case !p.Here() || p.Missing:
		case p.Loan != "":
			out = append(out, calendarEvent{about: fmt.Sprint("loan ", p.Code, " ", p.Lent), day: p.Due, words: "Loan due back: item " + p.Code, alarm: []int{7, 1}})
		default:
			for _, a := range Aspects {
				if day, ok := p.nextLook(a, rules); ok {
					looks[look{a, day}]++
				}
			}
		}
	}
	for k, n := range looks {
		out = append(out, calendarEvent{about: "look " + k.aspect.String(), day: k.day,
			words: "Condition look, " + k.aspect.String() + ": " + count(n, "piece")})
	}
	slices.SortFunc(out, func(a, b calendarEvent) int {
		if n := a.day.Compare(b.day); n != 0 {
			return n
		}
		return strings.Compare(a.about, b.about)
	})
	nth := map[string]int{} // the first look of a kind keeps its UID, whichever day it moves to
	for i, e := range out {
		nth[e.about]++
		out[i].about += fmt.Sprint(" ", nth[e.about])
	}
	return out
}

// writeCalendar writes events as RFC 5545 has it: CRLF, lines folded at 75 octets, days without a time of day. revision
// tells a later file of the same events from an earlier one.
func writeCalendar(w io.Writer, events []calendarEvent, uid func(about string) string, clock time.Time, revision int) error {
	out := bufio.NewWriter(w)
	line := func(s string) { out.WriteString(fold(s)) } // errors stay with out until Flush
	line("BEGIN:VCALENDAR")
	line("VERSION:2.0")
	line("PRODID:-//Sectionary//Due days//EN")
	line("CALSCALE:GREGORIAN")
	for _, e := range events {
		line("BEGIN:VEVENT")
		line("UID:" + uid(e.about))
		line("DTSTAMP:" + clock.UTC().Format("20060102T150405Z"))
		line("SEQUENCE:" + fmt.Sprint(revision))
		line("DTSTART;VALUE=DATE:" + civil(e.day).Format("20060102"))
		line("DTEND;VALUE=DATE:" + civil(e.day).AddDate(0, 0, 1).Format("20060102"))
		line("SUMMARY:" + escape(e.words))
		line("TRANSP:TRANSPARENT")
		for _, before := range e.alarm {
			line("BEGIN:VALARM")
			line("ACTION:DISPLAY")
			line("DESCRIPTION:" + escape(e.words+", in "+count(before, "day")))
			line(fmt.Sprintf("TRIGGER:-P%dD", before))
			line("END:VALARM")
		}
		line("END:VEVENT")
	}
	line("END:VCALENDAR")
	if err := out.Flush(); err != nil {
		return fmt.Errorf("atlas: calendar: %w", err)
	}
	return nil
}

// escape writes text as RFC 5545, 3.3.11 has it; other control characters fall away.
func escape(s string) string {
	s = strings.NewReplacer("\\", "\\\\", ";", "\\;", ",", "\\,", "\r\n", "\\n", "\n", "\\n").Replace(s)
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7F {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}

// fold breaks a line after 75 octets (RFC 5545, 3.1) between characters; what goes on begins with a space.
func fold(s string) string {
	var out strings.Builder
	for room := 75; len(s) > room; room = 74 {
		cut := room
		for cut > 0 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		out.WriteString(s[:cut] + "\r\n ")
		s = s[cut:]
	}
	return out.String() + s + "\r\n"
}
