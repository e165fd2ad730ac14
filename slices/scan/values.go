package scan

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// find returns the element with tag t, or nil. The first one wins where a file repeats it.
func (d dataset) find(t tag) *element {
	for i := range d.elements {
		if d.elements[i].tag == t {
			return &d.elements[i]
		}
	}
	return nil
}

// text returns a value's characters without the padding that stands round them.
func text(b []byte) string { return strings.Trim(string(b), " \x00\t\r\n") }

// text returns the whole value of t as text, or "".
func (d dataset) text(t tag) string {
	if e := d.find(t); e != nil {
		return text(e.value)
	}
	return ""
}

// texts returns the parts of a text that a backslash separates.
func (d dataset) texts(t tag) []string {
	s := d.text(t)
	if s == "" {
		return nil
	}
	parts := strings.Split(s, `\`)
	for i, p := range parts {
		parts[i] = strings.Trim(p, " \x00")
	}
	return parts
}

// maxNumbers bounds the parts read of one decimal text: nothing this reader uses has more.
const maxNumbers = 64

// numbers returns decimal text (DS, IS) as numbers. A part that is no finite number ends the list.
func (d dataset) numbers(t tag) []float64 {
	e := d.find(t)
	if e == nil {
		return nil
	}
	if e.vr == "FD" || e.vr == "FL" {
		return d.floats(e)
	}
	var list []float64
	rest := e.value
	for len(list) < maxNumbers {
		part, tail := rest, []byte(nil)
		for i, c := range rest {
			if c == '\\' {
				part, tail = rest[:i], rest[i+1:]
				break
			}
		}
		x, err := strconv.ParseFloat(text(part), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			break
		}
		list = append(list, x)
		if rest = tail; rest == nil {
			break
		}
	}
	return list
}

func (d dataset) floats(e *element) (list []float64) {
	size := 8
	if e.vr == "FL" {
		size = 4
	}
	for b := e.value; len(b) >= size && len(list) < maxNumbers; b = b[size:] {
		if size == 8 {
			list = append(list, math.Float64frombits(d.enc.order().Uint64(b)))
		} else {
			list = append(list, float64(math.Float32frombits(d.enc.u32(b))))
		}
	}
	return list
}

// number returns the first number of t. FD elements written implicitly are read as such by the caller through double.
func (d dataset) number(t tag) (float64, bool) {
	if list := d.numbers(t); len(list) > 0 {
		return list[0], true
	}
	return 0, false
}

// double returns an FD value, which implicit data does not mark as such.
func (d dataset) double(t tag) (float64, bool) {
	e := d.find(t)
	if e == nil || len(e.value) < 8 {
		return 0, false
	}
	return math.Float64frombits(d.enc.order().Uint64(e.value)), true
}

// vector returns exactly n numbers, or nil.
func (d dataset) vector(t tag, n int) []float64 {
	if list := d.numbers(t); len(list) >= n {
		return list[:n]
	}
	return nil
}

// integer returns a whole number stored in binary (US, UL).
func (d dataset) integer(t tag) (int, bool) {
	e := d.find(t)
	switch {
	case e == nil || len(e.value) < 2:
		return 0, false
	case len(e.value) == 4 && e.vr != "US" && e.vr != "SS":
		return int(d.enc.u32(e.value)), true
	}
	return int(d.enc.u16(e.value)), true
}

// whole returns a whole number written as text (IS), held within 32 bits.
func (d dataset) whole(t tag) (int, bool) {
	x, ok := d.number(t)
	return int(math.Max(math.Min(x, 1<<31-1), -1<<31)), ok
}

// integerOr is integer with a value for what is missing.
func (d dataset) integerOr(t tag, missing int) int {
	if n, ok := d.integer(t); ok {
		return n
	}
	return missing
}

// item returns the first item of sequence t, or an empty data set.
func (d dataset) item(t tag) dataset {
	if list := d.find(t).items(); len(list) > 0 {
		return list[0]
	}
	return dataset{enc: d.enc}
}

// readable returns the text of t in Go's own characters. UTF-8 and Latin-1 are understood; other character sets keep
// their plain letters and lose the rest.
func (d dataset) readable(t tag) string {
	s := d.text(t)
	ascii := true
	for i := range len(s) {
		ascii = ascii && s[i] >= ' ' && s[i] < 0x80
	}
	if ascii {
		return s
	}
	set := d.text(0x00080005)
	var b strings.Builder
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n <= 1:
			r, n = '?', 1
			if set == "" || strings.Contains(set, "100") {
				r = rune(s[i])
			}
		case r >= 0x80 && set != "" && !strings.Contains(set, "192"):
			r, n = '?', 1
			if strings.Contains(set, "100") {
				r = rune(s[i])
			}
		}
		if r >= ' ' && r != 0x7f {
			b.WriteRune(r)
		}
		i += n
	}
	return b.String()
}
