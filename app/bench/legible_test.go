package bench

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// contrastOf is the contrast ratio of WCAG 2.2 (relative luminance of sRGB, (L1+0.05)/(L2+0.05)).
func contrastOf(a, b color.RGBA) float64 {
	lum := func(c color.RGBA) float64 {
		f := func(v uint8) float64 {
			if s := float64(v) / 255; s > 0.04045 {
				return math.Pow((s+0.055)/1.055, 2.4)
			}
			return float64(v) / 255 / 12.92
		}
		return 0.2126*f(c.R) + 0.7152*f(c.G) + 0.0722*f(c.B)
	}
	la, lb := lum(a), lum(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// LB8: words on painted panes have a contrast of at least 4.5:1 (WCAG 2.2, 1.4.3) on every ground they are written on, names on
// the picture over the brightest and the darkest photograph, in both lights.
func TestLB8PaintedWordsHaveContrast(t *testing.T) {
	if got := contrastOf(rgb(0), rgb(0xffffff)); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white is %v, by definition 21", got)
	}
	for light, p := range map[string]Palette{"day": LightPalette(), "evening": DarkPalette()} {
		pairs := map[string][2]color.RGBA{"words on paper": {p.Ink, p.Paper}, "lesser words on paper": {p.Muted, p.Paper}, "words on a slab": {p.Ink, p.Slab},
			"chosen on paper": {p.Chosen, p.Paper}, "warning on paper": {p.Warn, p.Paper}, "words round pictures": {p.OnDark, p.Surround},
			"lesser words round pictures": {p.OnDarkLo, p.Surround}, "chosen round pictures": {p.ChosenOnDark, p.Surround}}
		for what, c := range pairs {
			if got := contrastOf(c[0], c[1]); got < 4.5 {
				t.Errorf("%s: %s has %.2f", light, what, got)
			}
		}
		for _, ground := range []uint8{0, 64, 128, 192, 255} {
			m := image.NewRGBA(image.Rect(0, 0, 200, 40))
			ink.FillRect(m, m.Rect, color.RGBA{ground, ground, ground, 255})
			b := New(&queue{}, nil, Options{})
			b.SetPalette(p)
			box := b.brush(m, 1).plate(10, 8, p.OnDark, dark(), "v  aorta")
			at := m.RGBAAt(box.Min.X+3, (box.Min.Y+box.Max.Y)/2)
			for what, c := range map[string]color.RGBA{"a name": p.OnDark, "the chosen name": p.ChosenOnDark} {
				if got := contrastOf(c, at); got < 4.5 {
					t.Errorf("%s: %s over a picture of grey %d has %.2f", light, what, ground, got)
				}
			}
		}
	}
}

// LB8: no meaning by colour alone. Every kind has a letter of its own, and its hatch, drawn as on the picture and made grey, is
// told from every other by its texture: the autocovariance at lags of up to two wide spacings, as a share of the variance,
// differs by at least 0.25 somewhere. A hatch that is there is seen: it varies by at least 3 grey levels.
func TestLB8HatchesAreToldApartInGrey(t *testing.T) {
	letters := map[string]annotate.Kind{}
	textures := map[annotate.Kind][]float64{}
	for _, k := range annotate.Kinds() {
		if other, twice := letters[k.Letter()]; twice || k.Letter() == "" {
			t.Errorf("%v and %v share the letter %q", k, other, k.Letter())
		}
		letters[k.Letter()] = k
		fill, hatch, wide := lookOf(annotate.Term{Kind: k}, true)
		m := image.NewRGBA(image.Rect(0, 0, 120, 120))
		ink.FillRect(m, m.Rect, color.RGBA{96, 84, 78, 255}) // fixed muscle, from memory
		ring := [][]geom.Px{{{X: -9, Y: -9}, {X: 130, Y: -9}, {X: 130, Y: 130}, {X: -9, Y: 130}}}
		ink.FillHatched(m, ring, ink.Fade(fill, 0.16), hatch, hatchStep*wide, ink.Fade(fill, hatchInk))
		tex, sd := texture(m)
		if sd < 3 && hatch != ink.Solid {
			t.Errorf("%v: the hatch varies by %.1f grey levels only", k, sd)
		}
		textures[k] = tex
	}
	least, who := math.Inf(1), ""
	for a, ta := range textures {
		for b, tb := range textures {
			if a >= b {
				continue
			}
			most := 0.0
			for i := range ta {
				most = math.Max(most, math.Abs(ta[i]-tb[i]))
			}
			if most < least {
				least, who = most, fmt.Sprint(a, " and ", b)
			}
		}
	}
	t.Logf("least difference of textures %.2f: %s", least, who)
	if least < 0.25 {
		t.Errorf("in grey %s look alike: %.2f", who, least)
	}
}

// texture is the autocovariance of the grey picture over its variance at lags of up to 36 px, and its standard deviation.
func texture(m *image.RGBA) (out []float64, sd float64) {
	const lag, size = 36, 120
	var g [size][size]float64
	mean := 0.0
	for y := range size {
		for x := range size {
			c := m.RGBAAt(x, y)
			g[y][x] = 0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B)
			mean += g[y][x] / size / size
		}
	}
	at := func(dx, dy int) (sum float64) {
		n := 0.0
		for y := max(0, -dy); y < size-max(0, dy); y += 2 {
			for x := 0; x < size-dx; x += 2 {
				sum += (g[y][x] - mean) * (g[y+dy][x+dx] - mean)
				n++
			}
		}
		return sum / n
	}
	variance := at(0, 0)
	for dy := -lag; dy <= lag; dy += 3 {
		for dx := 0; dx <= lag; dx += 3 {
			if variance < 0.01 {
				out = append(out, 0)
				continue
			}
			out = append(out, at(dx, dy)/variance)
		}
	}
	return out, math.Sqrt(variance)
}

// LB8: whatever can be done can be done by key, or by a button, and every button takes the keyboard (app/ui shows that).
func TestLB8EveryCommandHasAWay(t *testing.T) {
	buttons := map[string]bool{"go": true, "lab": true, "study": true} // groups whose commands stand as buttons in the head and on the pages
	type at struct {
		key    string
		screen Screen
	}
	taken := map[at]string{}
	for _, c := range commandTable {
		if c.key == "" && !buttons[c.group] && c.id != "marks" && c.id != "check.run" { // both stand as buttons in the panel of the hand
			t.Errorf("%s has no key", c.id)
		}
		on := c.on
		if len(on) == 0 {
			on = []Screen{StartScreen, RunScreen, FaceScreen, PairingScreen, HandOutScreen}
		}
		for _, s := range on {
			if other := taken[at{c.key, s}]; other != "" && c.key != "" {
				t.Errorf("%s and %s share the key %s", c.id, other, c.key)
			}
			taken[at{c.key, s}] = c.id
		}
	}
}
