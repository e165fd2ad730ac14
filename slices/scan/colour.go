package scan

import "fmt"

// colours turns stored values into grey where they are not grey already: a palette, colour, or a modality LUT.
type colours struct {
	table   *lookup    // modality LUT
	palette [3]*lookup // red, green, blue
}

// coloursOf returns what a file needs to become grey; nil when its values are grey as stored.
func coloursOf(d dataset, l layout) (*colours, error) {
	c := &colours{table: modalityTable(d, l)}
	if l.photometric == "PALETTE COLOR" {
		for i := range c.palette {
			if c.palette[i] = paletteOf(d, tag(i), l.signed); c.palette[i] == nil {
				return nil, fmt.Errorf("%w: a palette that is missing or segmented", ErrUnsupported)
			}
		}
		return c, nil
	}
	if c.table == nil && l.samples == 1 {
		return nil, nil
	}
	return c, nil
}

// paletteOf reads one colour's table (PS3.3 C.7.6.3.1.5); colour 0 is red.
func paletteOf(d dataset, colour tag, signed bool) *lookup {
	descriptor, data := d.find(0x00281101+colour), d.find(0x00281201+colour)
	if descriptor == nil || data == nil {
		return nil
	}
	described, values := *descriptor, *data
	described.tag, values.tag = 0x00283002, 0x00283006
	return lookupOf(dataset{enc: d.enc, elements: []element{described, values}}, signed)
}

// grey returns a function that gives the grey of pixel i of values: luma of BT.601 for colour (PS3.3 C.7.6.3.1.2),
// the stored value otherwise.
func (c *colours) grey(space string, values []int32, samples int) func(i int) int32 {
	switch {
	case c == nil:
		return func(i int) int32 { return values[i] }
	case samples == 3 && space != "RGB": // the first of luma and chroma is the grey
		return func(i int) int32 { return values[3*i] }
	case samples == 3:
		return func(i int) int32 { return luma(values[3*i], values[3*i+1], values[3*i+2]) }
	case c.palette[0] != nil:
		return func(i int) int32 {
			x := int(values[i])
			r, g, b := c.palette[0].at(x), c.palette[1].at(x), c.palette[2].at(x)
			return luma(int32(r), int32(g), int32(b)) >> max(0, c.palette[0].bits-8)
		}
	}
	return func(i int) int32 { return int32(c.table.at(int(values[i]))) }
}

func luma(r, g, b int32) int32 {
	return int32(0.299*float64(uint32(r)) + 0.587*float64(uint32(g)) + 0.114*float64(uint32(b)) + 0.5)
}
