package ui

import (
	"image/color"
	"math"
	"testing"
)

// Relative luminance and contrast ratio by WCAG 2.2, "relative luminance" and "contrast ratio".
func luminance(c color.NRGBA) float64 {
	f := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*f(c.R) + 0.7152*f(c.G) + 0.0722*f(c.B)
}

func contrast(a, b color.NRGBA) float64 {
	la, lb := luminance(a), luminance(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

func TestContrast(t *testing.T) {
	// Black on white is 21:1 by the definition.
	if got := contrast(rgb(0), rgb(0xffffff)); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white is %.3f", got)
	}
	for name, p := range map[string]palette{"day": day, "evening": evening} {
		words := []struct {
			what     string
			on, with color.NRGBA
		}{
			{"ink on paper", p.paper, p.ink}, {"ink on bench", p.bench, p.ink}, {"ink in a field", p.field, p.ink},
			{"muted on paper", p.paper, p.muted}, {"muted on bench", p.bench, p.muted}, {"muted in a field", p.field, p.muted},
			{"what cannot be done on paper", p.paper, p.faint}, {"warning on paper", p.paper, p.warn}, {"warning on bench", p.bench, p.warn},
			{"chosen on paper", p.paper, p.chosen}, {"chosen on its tint", p.tint, p.chosen}, {"words on the accent", p.chosen, p.onChosen},
		}
		for _, w := range words {
			if got := contrast(w.on, w.with); got < 4.5 {
				t.Errorf("%s: %s has %.2f, needs 4.5 (WCAG 2.2, 1.4.3)", name, w.what, got)
			}
		}
		edges := []struct {
			what     string
			on, with color.NRGBA
		}{
			{"edge of a field on paper", p.paper, p.fieldEdge}, {"focus ring on paper", p.paper, p.chosen},
			{"focus ring on bench", p.bench, p.chosen}, {"pointer round pictures", p.surround, evening.chosen},
		}
		for _, e := range edges {
			if got := contrast(e.on, e.with); got < 3 {
				t.Errorf("%s: %s has %.2f, needs 3 (WCAG 2.2, 1.4.11)", name, e.what, got)
			}
		}
	}
}
