package scan

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"fmt"
	"io"
)

// findStart returns where the first element lies: behind the preamble, or at 0 in files that have none.
func findStart(data []byte, whole bool) (int, error) {
	if len(data) < 132 && !whole {
		return 0, errMore
	}
	if len(data) >= 132 && string(data[128:132]) == "DICM" {
		return 132, nil
	}
	if len(data) >= 4 && string(data[:4]) == "DICM" {
		return 4, nil
	}
	if len(data) < 16 {
		return 0, fmt.Errorf("%w: the file is too short", ErrNotScan)
	}
	if !plausible(data) {
		return 0, fmt.Errorf("%w: neither DICOM nor NIfTI", ErrNotScan)
	}
	return 0, nil
}

// plausible reports whether data can be a data set without preamble: its first element lies in group 2 or 8, is
// written explicitly or has a believable length, and no earlier group is left out.
func plausible(data []byte) bool {
	for _, e := range []encoding{{}, {big: true}} {
		if g := e.u16(data); g != 2 && g != 8 {
			continue
		}
		if explicitAt(data) {
			return true
		}
		if n := e.u32(data[4:]); n <= 1024 && e.u16(data[2:]) <= 0x0100 {
			return true
		}
	}
	return false
}

// meta reads group 2, which is always explicit little endian (PS3.10 7.1). Its stated length is not trusted: the group
// ends where another begins.
func (p *parser) meta(pos int, f *file) (int, error) {
	for {
		if len(p.data)-pos < 8 {
			if !p.whole {
				return 0, errMore
			}
			return pos, nil
		}
		if binary.LittleEndian.Uint16(p.data[pos:]) != 2 {
			return pos, nil
		}
		enc := encoding{implicit: !explicitAt(p.data[pos:])}
		e, next, err := p.element(pos, enc, 0)
		if err != nil {
			return 0, err
		}
		if next < 0 {
			return 0, fmt.Errorf("%w: the file ends inside its first lines", ErrDamaged)
		}
		switch e.tag {
		case 0x00020002:
			f.class = text(e.value)
		case 0x00020010:
			f.syntax = text(e.value)
		}
		pos = next
	}
}

// sniff decides how a data set is written: by what its first element looks like, which is right more often than the
// header's word when the two differ.
func sniff(data []byte, syntax string) encoding {
	enc := encoding{implicit: !explicitAt(data)}
	little, big := binary.LittleEndian.Uint16(data), binary.BigEndian.Uint16(data)
	enc.big = syntax == syntaxBigEndian
	if little > 0xff && big <= 0xff {
		enc.big = true
	} else if big > 0xff && little <= 0xff {
		enc.big = false
	}
	return enc
}

// looksPlain reports whether bytes said to be deflated are a data set as they stand.
func looksPlain(data []byte) bool {
	return len(data) >= 8 && data[0] == 8 && data[1] == 0 && explicitAt(data)
}

// inflateFile opens the deflated rest of a file (PS3.5 A.5: raw deflate).
func inflateFile(f *file, packed []byte, whole bool) (*file, error) {
	plain, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(packed)), maxInflated+1))
	if len(plain) > maxInflated {
		return nil, fmt.Errorf("%w: the data set unpacks to over %d MB", ErrTooLarge, maxInflated>>20)
	}
	if err != nil && !whole && err == io.ErrUnexpectedEOF {
		p := &parser{data: plain, left: maxElements}
		part := *f
		if p.body(0, &part) == nil && part.pixels != nil {
			return &part, nil
		}
		return nil, errMore
	}
	p := &parser{data: plain, whole: true, left: maxElements}
	if e := p.body(0, f); e != nil {
		return nil, e
	}
	f.truncated = f.truncated || err != nil
	return f, nil
}

// blank reports whether only zero bytes are left: padding after the data set.
func blank(data []byte) bool {
	if data[0] != 0 {
		return false
	}
	for _, b := range data {
		if b != 0 {
			return false
		}
	}
	return true
}
