package atlas

import (
	"encoding/json"
	"errors"
	"fmt"
)

// CustodyRules are what a lab sets for its custody.
type CustodyRules struct {
	// LookDays says after how many days a piece is looked at again, by Aspect; 0 for no such look.
	LookDays [3]int `json:"lookDays"`
	// CalendarCodes lets calendar files name donors by their lab codes; else they go by codes made for calendars alone.
	CalendarCodes bool `json:"calendarCodes,omitempty"`
	// Rule is the lab's own rule for keeping and returning, in its words; shown, never judged by.
	Rule string `json:"rule,omitempty"`
	// Card is what the lab adds to the caution cards; their own last line always stays.
	Card string `json:"card,omitempty"`
}

const rulesKey = "custody"

// mostLookDays is ten years.
const mostLookDays = 3653

// CustodyRules returns what the lab set; all zero before it set anything.
func (l *Library) CustodyRules() (CustodyRules, error) {
	var r CustodyRules
	text, err := l.db.Meta(rulesKey)
	if errors.Is(err, ErrNotFound) {
		return r, nil
	}
	if err != nil {
		return r, err
	}
	if err := json.Unmarshal([]byte(text), &r); err != nil {
		return r, fmt.Errorf("%w: the lab's rules of custody: %w", ErrDamaged, err)
	}
	return r, nil
}

// SetCustodyRules notes what the lab sets.
func (l *Library) SetCustodyRules(r CustodyRules) error {
	if err := l.writable(); err != nil {
		return err
	}
	for _, a := range Aspects {
		if n := r.LookDays[a]; n < 0 || n > mostLookDays {
			return fmt.Errorf("atlas: looking at the %s every %d days cannot be; 1 to %d, or 0 for none", a, n, mostLookDays)
		}
	}
	text, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("atlas: %w", err)
	}
	return l.db.SetMeta(rulesKey, string(text))
}
