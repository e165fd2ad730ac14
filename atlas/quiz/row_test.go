package quiz

import (
	"testing"

	"sectionary/annotate"
)

// Row EX6: what tells one of a row (vertebrae, ribs, digits) cannot be read off one section: vertebrae are counted from an end or by
// ribs, never seen alone (common practice, no source).
func TestOneOfARow(t *testing.T) {
	for name, want := range map[string]bool{"T7 vertebra": true, "L1 vertebra": true, "first rib": true, "third metacarpal bone": true,
		"vertebra": false, "rib": false, "atlas": false, "sternum": false, "Twelfth thoracic nerve": true, "firstborn": false, "S": false} {
		if got := oneOfARow(annotate.Term{Name: name}); got != want {
			t.Errorf("%s: %v", name, got)
		}
	}
}
