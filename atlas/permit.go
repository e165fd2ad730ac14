package atlas

import (
	"context"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"sectionary/atlas/store"
)

var purposeWords = map[Purpose]string{
	Teaching: "in-house teaching", Exam: "in-house exam", OtherInstitution: "other institution", Research: "research",
	Publication: "publication", PublicWeb: "public web", SocialMedia: "social media", Display: "display", Commercial: "commercial",
}

// Words names a purpose the way agreements and screens do; "" for one that does not exist.
func (p Purpose) Words() string { return purposeWords[p] }

// Refusal is an ErrNotPermitted with the sentence to show.
type Refusal struct {
	Purpose  Purpose
	Sentence string
}

func (r *Refusal) Error() string { return "atlas: " + r.Sentence }

// Unwrap returns ErrNotPermitted.
func (r *Refusal) Unwrap() error { return ErrNotPermitted }

// Permits says whether a donor's agreement allows a purpose on a day. It fails with a *Refusal, which is an
// ErrNotPermitted, and records nothing.
func (l *Library) Permits(donor string, p Purpose, today time.Time) error {
	d, err := l.Donor(donor)
	if err != nil {
		return err
	}
	return d.Agreement.Permits(p, today)
}

// Permits says whether the agreement allows a purpose on a day: what is not recorded is not allowed, and after
// its last day nothing is, nor once the donor went back, unless the agreement keeps the pictures then. It fails with a *Refusal.
func (a Agreement) Permits(p Purpose, today time.Time) error {
	refuse := func(sentence string) error {
		return &Refusal{Purpose: p, Sentence: "May not leave: " + sentence + " " + a.keeper() + " can change this."}
	}
	if p.Words() == "" {
		return refuse(fmt.Sprintf("%q is not a purpose that an agreement can name.", string(p)))
	}
	if !a.Returned.IsZero() {
		on := a.Returned.Format(dayWords)
		switch a.AfterReturn {
		case WithdrawPictures:
			return refuse("this donor went back on " + on + ", and the agreement withdraws the pictures then.")
		case NotRecorded:
			return refuse("this donor went back on " + on + ", and the agreement does not say that pictures may be kept in use.")
		}
		// The agreement keeps pictures beyond the day by which everything goes back, for what it permits.
	} else if !a.Ends.IsZero() && today.Format(day) > a.Ends.Format(day) {
		return refuse("this donor's agreement ended on " + a.Ends.Format(dayWords) + ".")
	}
	if a.Permitted[p] {
		return nil
	}
	return refuse(fmt.Sprintf("'%s' is not in this donor's agreement. %s", p.Words(), a.allowed()))
}

// keeper says who may change the agreement.
func (a Agreement) keeper() string {
	if a.ChangedBy != "" {
		return "Only " + a.ChangedBy
	}
	return "Only whoever keeps the agreement"
}

// allowed lists what the agreement permits, as a sentence.
func (a Agreement) allowed() string {
	var words []string
	for _, p := range Purposes {
		if a.Permitted[p] {
			words = append(words, p.Words())
		}
	}
	switch n := len(words); n {
	case 0:
		return "Nothing is recorded about uses, so nothing may leave."
	case 1:
		return capital(words[0]) + " is."
	default:
		return capital(strings.Join(words[:n-1], ", ")+" and "+words[n-1]) + " are."
	}
}

// capital makes the first letter a capital.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 || r == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// Record writes lines into the record of hand-outs and refusals, all or none.
func (l *Library) Record(lines ...HandOut) error {
	if err := l.writable(); err != nil {
		return err
	}
	rows := make([]store.HandOut, len(lines))
	for i, h := range lines {
		rows[i] = store.HandOut{ID: h.ID, At: h.When, Purpose: string(h.Purpose), Donor: h.Donor, Plates: h.Plates,
			Allowed: h.Allowed, Reason: h.Reason, Files: h.Files}
	}
	return l.db.AddHandOuts(rows)
}

// HandOuts lists what left and what was refused, oldest first.
func (l *Library) HandOuts() ([]HandOut, error) {
	rows, err := l.db.HandOuts(context.Background())
	if err != nil {
		return nil, err
	}
	out := make([]HandOut, len(rows))
	for i, r := range rows {
		out[i] = HandOut{ID: r.ID, When: r.At, Purpose: Purpose(r.Purpose), Donor: r.Donor, Plates: r.Plates,
			Allowed: r.Allowed, Reason: r.Reason, Files: r.Files}
	}
	return out, nil
}
