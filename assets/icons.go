package assets

import "embed"

// icons are our own drawings, one stroke width, 24 x 24, black: the window recolours them.
//
//go:embed icons/*.svg
var icons embed.FS

// Mark is the program's own mark as SVG, for the window and the desktop.
//
//go:embed sectionary.svg
var Mark []byte

// Icon returns the SVG of the icon with this name, nil when there is none.
func Icon(name string) []byte {
	b, err := icons.ReadFile("icons/" + name + ".svg")
	if err != nil {
		return nil
	}
	return b
}

// ScreenWords are the words of the window: key, tab, text.
//
//go:embed screens.en.tsv
var ScreenWords string
