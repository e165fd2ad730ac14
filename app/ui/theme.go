package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"
)

// Colour names of our own, beside Fyne's: what a laboratory bench is made of.
const (
	colorPaper    fyne.ThemeColorName = "sectionaryPaper"    // slips, panels, bars
	colorMuted    fyne.ThemeColorName = "sectionaryMuted"    // second-rank words
	colorEdge     fyne.ThemeColorName = "sectionaryEdge"     // hairline of a sheet of paper
	colorSurround fyne.ThemeColorName = "sectionarySurround" // round pictures only
	colorTint     fyne.ThemeColorName = "sectionaryTint"     // behind what is chosen
	colorScrim    fyne.ThemeColorName = "sectionaryScrim"    // over the bench while a slip asks something
)

// palette is one design of the bench. Every pair of words and ground reaches a contrast of 4.5:1, and every
// edge of a field or focus ring 3:1 (WCAG 2.2, 1.4.3 and 1.4.11); palette_test.go measures them.
type palette struct {
	bench, paper, field    color.NRGBA
	ink, muted, faint      color.NRGBA // words; faint for what cannot be done now
	edge, fieldEdge        color.NRGBA
	chosen, onChosen, tint color.NRGBA
	warn, surround         color.NRGBA
}

func rgb(hex uint32) color.NRGBA {
	return color.NRGBA{uint8(hex >> 16), uint8(hex >> 8), uint8(hex), 255}
}

func alpha(c color.NRGBA, a uint8) color.NRGBA { c.A = a; return c }

// The day bench is matt warm grey under off-white paper; the evening bench is the same wood with the lamp low.
// The accent is a bottle green: tissue fixed in the bath is brown and grey, so it cannot be taken for a colour
// of the picture.
var (
	day = palette{
		bench: rgb(0xd6d1c8), paper: rgb(0xf5f1e8), field: rgb(0xfffdf8),
		ink: rgb(0x1d1b17), muted: rgb(0x575146), faint: rgb(0x6b6559),
		edge: rgb(0xbab2a3), fieldEdge: rgb(0x857d6e),
		chosen: rgb(0x12624f), onChosen: rgb(0xfbf9f3), tint: rgb(0xd3e2d9),
		warn: rgb(0x8a4300), surround: rgb(0x2b2a28),
	}
	evening = palette{
		bench: rgb(0x2b2926), paper: rgb(0x393632), field: rgb(0x242220),
		ink: rgb(0xece7dc), muted: rgb(0xbcb5a8), faint: rgb(0xa8a195),
		edge: rgb(0x57524b), fieldEdge: rgb(0x8f877a),
		chosen: rgb(0x7bd0b3), onChosen: rgb(0x0d211a), tint: rgb(0x2f4a41),
		warn: rgb(0xf0b660), surround: rgb(0x1d1c1b),
	}
)

// look is the theme of the window: a palette and a text size in per cent.
type look struct {
	fyne.Theme
	dark bool
	text int // 100, 125, 150 or 200
}

func newLook(dark bool, text int) *look {
	return &look{Theme: theme.DefaultTheme(), dark: dark, text: text}
}

func (l *look) palette() palette {
	if l.dark {
		return evening
	}
	return day
}

// scale is how much larger than designed words and what holds them are drawn.
func (l *look) scale() float32 { return float32(l.text) / 100 }

// Color implements fyne.Theme; the variant of the desktop is not asked, the lab chooses day or evening itself.
func (l *look) Color(name fyne.ThemeColorName, v fyne.ThemeVariant) color.Color {
	p := l.palette()
	switch name {
	case theme.ColorNameBackground:
		return p.bench
	case colorPaper, theme.ColorNameOverlayBackground, theme.ColorNameMenuBackground, theme.ColorNameHeaderBackground:
		return p.paper
	case theme.ColorNameForeground:
		return p.ink
	case colorMuted, theme.ColorNamePlaceHolder:
		return p.muted
	case theme.ColorNameDisabled:
		return p.faint
	case colorEdge, theme.ColorNameSeparator:
		return p.edge
	case theme.ColorNameInputBackground:
		return p.field
	case theme.ColorNameInputBorder:
		return p.fieldEdge
	case theme.ColorNamePrimary, theme.ColorNameFocus, theme.ColorNameHyperlink, theme.ColorNameSuccess:
		return p.chosen
	case theme.ColorNameForegroundOnPrimary:
		return p.onChosen
	case colorTint, theme.ColorNameSelection:
		return p.tint
	case theme.ColorNameHover:
		return alpha(p.ink, 18)
	case theme.ColorNamePressed:
		return alpha(p.ink, 36)
	case theme.ColorNameScrollBar:
		return alpha(p.ink, 110)
	case theme.ColorNameScrollBarBackground:
		return alpha(p.ink, 14)
	case theme.ColorNameShadow:
		return color.NRGBA{}
	case theme.ColorNameButton, theme.ColorNameDisabledButton:
		return color.NRGBA{}
	case theme.ColorNameWarning, theme.ColorNameError:
		return p.warn
	case colorSurround:
		return p.surround
	case colorScrim:
		return color.NRGBA{20, 18, 15, 150}
	}
	return l.Theme.Color(name, v)
}

// Size implements fyne.Theme: words grow with the text setting, the room round them a little less.
func (l *look) Size(name fyne.ThemeSizeName) float32 {
	s := l.scale()
	switch name {
	case theme.SizeNameHeadingText:
		return 20 * s
	case theme.SizeNameSubHeadingText:
		return 16 * s
	case theme.SizeNameText:
		return 14 * s
	case theme.SizeNameCaptionText:
		return 12 * s
	case theme.SizeNameInlineIcon:
		return 20 * (1 + (s-1)*0.7)
	case theme.SizeNamePadding:
		return 4
	case theme.SizeNameInnerPadding:
		return 9 * (1 + (s-1)*0.4)
	case theme.SizeNameInputRadius, theme.SizeNameSelectionRadius:
		return 3
	case theme.SizeNameScrollBar:
		return 12
	case theme.SizeNameScrollBarSmall:
		return 5
	}
	return l.Theme.Size(name)
}

// grown is a length of the design at 100 % text, grown with the text setting of the look in use.
func grown(length float32) float32 {
	return length * theme.Size(theme.SizeNameText) / 14
}

// target is the least height of anything that can be pressed: hands wear gloves here.
func target() float32 { return max(44, grown(24)+20) }

func ink(name fyne.ThemeColorName) color.Color {
	return theme.Color(name)
}
