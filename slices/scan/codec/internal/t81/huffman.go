package t81

// ShortBits is the length of the codes Huffman.Decode finds in one look.
const ShortBits = 9

// Huffman is a decoding table (T.81 Annex C and F.2.2.3).
type Huffman struct {
	short  [1 << ShortBits]uint16 // length<<8 | symbol, 0 for longer codes
	limit  [17]uint32             // first 16-bit left-aligned code above those of this length
	offset [17]int                // symbol index of a code is offset + code
	vals   []byte
}

// NewHuffman builds the table from the number of codes of each length and the
// symbols in code order, as a DHT segment gives them.
func NewHuffman(counts [16]byte, symbols []byte) (*Huffman, error) {
	h := &Huffman{vals: append([]byte(nil), symbols...)}
	code, k := 0, 0
	for l := 1; l <= 16; l++ {
		n := int(counts[l-1])
		if code+n > 1<<l || k+n > len(symbols) {
			return nil, corrupt("Huffman table with too many codes of %d bits", l)
		}
		h.offset[l] = k - code
		for range n {
			if l <= ShortBits {
				first := code << (ShortBits - l)
				for i := range 1 << (ShortBits - l) {
					h.short[first+i] = uint16(l)<<8 | uint16(symbols[k])
				}
			}
			code++
			k++
		}
		h.limit[l] = uint32(code) << (16 - l)
		code <<= 1
	}
	return h, nil
}

// Decode returns the symbol whose code begins the left-aligned word, and its
// length in bits; length 0 means no code matches.
func (h *Huffman) Decode(word uint64) (symbol byte, length int) {
	if e := h.short[word>>(64-ShortBits)]; e != 0 {
		return byte(e), int(e >> 8)
	}
	c := uint32(word >> 48)
	for l := ShortBits + 1; l <= 16; l++ {
		if c < h.limit[l] {
			return h.vals[h.offset[l]+int(c>>(16-l))], l
		}
	}
	return 0, 0
}

// Extend turns the size additional bits v into the signed value they stand for
// (T.81 F.2.2.1 and Table F.12).
func Extend(v, size int) int {
	if size > 0 && v < 1<<(size-1) {
		return v - 1<<size + 1
	}
	return v
}
