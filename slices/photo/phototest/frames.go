package phototest

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"os"
	"path/filepath"
)

// SectionFrames copies the real section photographs image-N.jpeg of the folder from into the folder to, with the small logo at
// their upper right covered; mm is N, which is mm along the body. They are for tests only: to is a folder that goes with the
// test. Where from holds none the lists are empty.
func SectionFrames(from, to string) (files []string, mm []int, err error) {
	all, err := filepath.Glob(filepath.Join(from, "image-*.jpeg"))
	if err != nil {
		return nil, nil, err
	}
	for _, file := range all {
		name, n := filepath.Base(file), 0
		if _, err := fmt.Sscanf(name, "image-%d.jpeg", &n); err != nil {
			return nil, nil, fmt.Errorf("phototest: %s has no number: %w", file, err)
		}
		copied := filepath.Join(to, name)
		if err := cover(file, copied); err != nil {
			return nil, nil, fmt.Errorf("phototest: %s: %w", file, err)
		}
		files, mm = append(files, copied), append(mm, n)
	}
	return files, mm, nil
}

func cover(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	src, err := jpeg.Decode(in)
	if err != nil {
		return err
	}
	m := image.NewRGBA(src.Bounds())
	draw.Draw(m, m.Rect, src, m.Rect.Min, draw.Src)
	draw.Draw(m, image.Rect(m.Rect.Max.X*87/100, 0, m.Rect.Max.X, m.Rect.Max.Y/7), image.NewUniform(color.Black), image.Point{}, draw.Src)
	out, err := os.OpenFile(to, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer out.Close()
	if err := jpeg.Encode(out, m, &jpeg.Options{Quality: 95}); err != nil {
		return err
	}
	return out.Close()
}
