package ui

import (
	"fmt"
	"image/color"
	"strings"

	"fyne.io/fyne/v2"

	"sectionary/assets"
)

// iconResource is an icon drawn in one colour. The colour stands in the resource's name, so Fyne's cache keeps
// each apart.
func iconResource(name string, c color.Color) fyne.Resource {
	r, g, b, _ := c.RGBA()
	hex := fmt.Sprintf("#%02x%02x%02x", r>>8, g>>8, b>>8)
	svg := strings.ReplaceAll(string(assets.Icon(name)), "#000000", hex)
	return fyne.NewStaticResource(name+hex+".svg", []byte(svg))
}
