package scan

// lookup is a table of a header: modality LUT (PS3.3 C.11.1) or VOI LUT (C.11.2).
type lookup struct {
	first  int   // the value that the first entry stands for; lower ones take it too
	bits   int   // of an entry
	values []int // at least one
}

// at returns the entry for x; values beyond either end take the last one there.
func (t *lookup) at(x int) int {
	return t.values[max(0, min(x-t.first, len(t.values)-1))]
}

// lookupOf reads the table in one item of a LUT sequence, or returns nil. signed says how its first value is written.
func lookupOf(d dataset, signed bool) *lookup {
	e, data := d.find(0x00283002), d.find(0x00283006)
	if e == nil || data == nil || len(e.value) < 6 {
		return nil
	}
	count := int(d.enc.u16(e.value))
	if count == 0 { // PS3.3 C.11.1.1.1: 0 stands for 65536
		count = 1 << 16
	}
	t := &lookup{first: int(d.enc.u16(e.value[2:])), bits: int(d.enc.u16(e.value[4:]))}
	if e.vr == "SS" || e.vr != "US" && signed {
		t.first = int(int16(t.first))
	}
	if t.bits < 1 || t.bits > 16 {
		return nil
	}
	switch {
	case len(data.value) >= 2*count:
		for i := range count {
			t.values = append(t.values, int(d.enc.u16(data.value[2*i:])))
		}
	case len(data.value) >= count && t.bits <= 8: // packed into bytes
		for _, b := range data.value[:count] {
			t.values = append(t.values, int(b))
		}
	default:
		return nil
	}
	return t
}

// modalityTable returns the modality LUT of a header, or nil.
func modalityTable(d dataset, l layout) *lookup {
	return lookupOf(d.item(0x00283000), l.signed)
}

// windowsOf reads the windows of a header: centre and width pairs first, then VOI LUT tables. Pairs that cannot be
// applied are left out.
func windowsOf(d dataset) []Window {
	centres, widths, names := d.numbers(tagCentre), d.numbers(tagWidth), d.texts(0x00281055)
	inverse := d.text(tagPhotometric) == "MONOCHROME1"
	function := Linear
	switch d.text(0x00281056) {
	case "LINEAR_EXACT":
		function = LinearExact
	case "SIGMOID":
		function = Sigmoid
	}
	var list []Window
	for i := range min(len(centres), len(widths)) {
		w := Window{Centre: centres[i], Width: widths[i], Function: function, Inverse: inverse}
		if i < len(names) {
			w.Name = names[i]
		}
		if w.Check() == nil {
			list = append(list, w)
		}
	}
	for _, item := range d.find(0x00283010).items() {
		_, signed := d.number(tagIntercept) // a rescale can bring negative values to the table
		t := lookupOf(item, signed || d.integerOr(tagSigned, 0) == 1)
		if t == nil || len(list) >= maxNumbers {
			continue
		}
		w := Window{First: float64(t.first), Inverse: inverse, Name: item.readable(0x00283003)}
		top := float64(int(1)<<t.bits - 1)
		for _, v := range t.values {
			w.Table = append(w.Table, min(float64(v)/top, 1))
		}
		w.Centre, w.Width = w.First+float64(len(w.Table))/2, float64(len(w.Table))
		list = append(list, w)
	}
	return list
}
