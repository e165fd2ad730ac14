package photo

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"
	"slices"
)

// largestProfile bounds an embedded profile; printers' profiles, which are not of matrix form, reach a few MB.
const largestProfile = 8 << 20

// readProfile finds an embedded colour profile that the pixels must be carried over from; ok is false when there is
// none, it is sRGB, or it is of a kind that cannot be used, whose name is unused then.
func readProfile(data []byte, format string) (p profile, unused string, ok bool) {
	var icc []byte
	switch format {
	case "jpeg":
		icc = jpegProfile(data)
	case "png":
		icc = pngProfile(data)
	case "webp":
		icc = webpProfile(data)
	case "tiff":
		icc = tiffProfile(data)
	}
	if len(icc) == 0 {
		return profile{}, "", false
	}
	p, ok = parseProfile(icc)
	switch {
	case !ok && p.name == "":
		return profile{}, "no name", false
	case !ok:
		return profile{}, p.name, false
	case p.isSRGB():
		return profile{}, "", false
	}
	return p, "", true
}

// jpegProfile joins the numbered pieces of APP2 (ICC.1:2010, annex B.4).
func jpegProfile(data []byte) []byte {
	pieces := map[int][]byte{}
	_ = eachSegment(bufio.NewReader(bytes.NewReader(data)), func(marker byte, body []byte) bool {
		if n := len(iccName); marker == markerAPP2 && bytes.HasPrefix(body, iccName) && len(body) > n+2 {
			pieces[int(body[n])] = slices.Clone(body[n+2:])
		}
		return true
	})
	var icc []byte
	for i := 1; pieces[i] != nil && len(icc) < largestProfile; i++ {
		icc = append(icc, pieces[i]...)
	}
	return icc
}

// pngProfile reads the chunk iCCP before the pixels (PNG, 11.3.3.3).
func pngProfile(data []byte) []byte {
	for rest := data[min(8, len(data)):]; len(rest) >= 12; {
		n, name := uint64(binary.BigEndian.Uint32(rest)), string(rest[4:8])
		if name == "IDAT" || n+12 > uint64(len(rest)) {
			return nil
		}
		body := rest[8 : 8+n]
		rest = rest[12+n:]
		if name != "iCCP" {
			continue
		}
		end := bytes.IndexByte(body, 0)
		if end < 0 || end+2 > len(body) {
			return nil
		}
		z, err := zlib.NewReader(bytes.NewReader(body[end+2:]))
		if err != nil {
			return nil
		}
		icc, _ := io.ReadAll(io.LimitReader(z, largestProfile)) // a profile that breaks off fails to parse
		return icc
	}
	return nil
}

// webpProfile reads the chunk ICCP (RFC 9649, 2.7.1.4).
func webpProfile(data []byte) []byte {
	for rest := data[min(12, len(data)):]; len(rest) >= 8; {
		n := uint64(binary.LittleEndian.Uint32(rest[4:]))
		if n+8 > uint64(len(rest)) {
			return nil
		}
		if string(rest[:4]) == "ICCP" {
			return rest[8 : 8+n]
		}
		rest = rest[min(8+n+n&1, uint64(len(rest))):]
	}
	return nil
}

func tiffProfile(data []byte) []byte {
	fields, err := readIFD(bytes.NewReader(data))
	if err != nil {
		return nil
	}
	f, ok := fields[tagICC]
	if !ok || uint64(f.value)+uint64(f.count) > uint64(len(data)) {
		return nil
	}
	return data[f.value : uint64(f.value)+uint64(f.count)]
}
