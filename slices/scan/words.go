package scan

import "unsafe"

// littleHost reports whether this machine stores the low byte of a word first, as most files do.
var littleHost = func() bool {
	x := uint16(1)
	return *(*byte)(unsafe.Pointer(&x)) == 1
}()

// bytesOf shows the memory of v as bytes, so that a file can be read into it without a copy in between.
func bytesOf(v []int16) []byte {
	if len(v) == 0 {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&v[0])), 2*len(v))
}

// foursOf shows the memory of v four values at a time, and what is left over. Memory that does not start at a multiple of
// eight bytes is all left over.
func foursOf(v []int16) (four []uint64, rest []int16) {
	if len(v) < 4 || uintptr(unsafe.Pointer(&v[0]))%8 != 0 {
		return nil, v
	}
	return unsafe.Slice((*uint64)(unsafe.Pointer(&v[0])), len(v)/4), v[len(v)&^3:]
}
