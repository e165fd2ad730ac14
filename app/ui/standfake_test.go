package ui

import (
	"fmt"

	"sectionary/app/bench"
)

const longStand = "Lens measured on 5 pictures of the sheet; its corners fit to 0.21 px. The sheet reached 72% of the way to the corners of the picture; beyond, lengths lean on the curve alone. Camera 1000 mm above the face, scale 25 mm below it. Scale plate 200 x 140 mm. Colour by its grey patch or card. Kept 14 November 2026."

func (f *fake) Stands() []bench.StandRow {
	if f.empty {
		return nil
	}
	return []bench.StandRow{{Name: "Column A, cold room"}, {Name: "Window bench, polarisers", Words: longStand, Chosen: true}, {Name: "B"}}
}

func (f *fake) StandWords() string {
	return longStand + " Its lens was measured on pictures of 6000 x 4000 pixels and is not used on this one."
}

func (f *fake) LensWaits() bool         { return true }
func (f *fake) KeepStand(string) error  { f.call("keep stand"); return nil }
func (f *fake) OpenSheet(on bool)       { f.call(fmt.Sprint("sheet ", on)); f.sheet = on }
func (f *fake) ScaleThroughLens() error { f.call("through"); return nil }

func (f *fake) Sheet() bench.SheetInfo {
	return bench.SheetInfo{Columns: 14, Rows: 10, Side: 12.5, Open: f.sheet, Accepted: 2, Lens: "Lens measured on 5 pictures of the sheet; its corners fit to 0.21 px. The sheet reached the corners of the picture.",
		Words:   "2 accepted. One picture will do; three, with the sheet tilted differently in each, tell more.",
		Problem: "The lens cannot be told from these pictures. tilt the sheet differently in every picture",
		Shots: []bench.SheetRow{{Name: "IMG_20261108_134455_burst_cover_of_the_sheet.jpg", Words: "140 corners, accepted.", Found: true, Accepted: true, Shown: true},
			{Name: "IMG_2.jpg", Words: "No chequer sheet was found on this picture. Let the whole sheet lie in the picture, flat and in even light, and take it again."}}}
}

func (f *fake) Batch() bench.BatchInfo {
	if f.empty {
		return bench.BatchInfo{}
	}
	i := bench.BatchInfo{Offered: true, HasColour: true, Colour: true, Done: "Scale carried over to 118 photographs.",
		Words: "120 photographs of the same donor, day and size without a scale. If the camera has not moved since, its scale holds there too, with a spread wider by 1.0%."}
	for range 120 {
		i.Rows = append(i.Rows, bench.BatchRow{Words: "Slab 13, upper face of the trunk with both shoulders, taken 13:44:55"})
	}
	return i
}
