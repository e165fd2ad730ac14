package scan

import (
	"crypto/hmac"
	"crypto/sha256"
	"math/big"
)

// Cleaner replaces identifiers when a series comes in, after the basic profile of DICOM PS3.15 Annex E. Nothing is
// blanked one attribute at a time: a Volume carries geometry, values, windows and modality only, so names, dates,
// institutions and private data have no place to survive in. What is left are UIDs, replaced consistently, and free
// text, dropped.
type Cleaner struct{ secret []byte }

// NewCleaner returns a cleaner for one library's secret, which must be kept for later imports to agree: the same UID
// always becomes the same new one, and the old one cannot be worked out from it without the secret.
func NewCleaner(secret []byte) *Cleaner { return &Cleaner{secret: append([]byte(nil), secret...)} }

// UID returns the replacement for a UID, under 2.25 (PS3.5 B.2); an empty UID stays empty.
func (c *Cleaner) UID(old string) string {
	if old == "" {
		return ""
	}
	m := hmac.New(sha256.New, c.secret)
	m.Write([]byte(old))
	sum := m.Sum(nil)
	sum[6], sum[8] = sum[6]&0x0f|0x80, sum[8]&0x3f|0x80 // RFC 9562 version 8
	return "2.25." + new(big.Int).SetBytes(sum[:16]).String()
}

// Series returns s as it may be kept in a library: UIDs replaced, free text and file names gone. The
// result can no longer be loaded from.
func (c *Cleaner) Series(s Series) Series {
	s.UID, s.Frame, s.Description = c.UID(s.UID), c.UID(s.Frame), ""
	s.Modality = plainModality(s.Modality)
	s.Files, s.Slices, s.plan = nil, nil, nil
	s.Windows = plainWindows(s.Windows)
	return s
}

// Volume replaces the identifiers of v in place and takes its free text away.
func (c *Cleaner) Volume(v *Volume) {
	v.UID, v.Frame = c.UID(v.UID), c.UID(v.Frame)
	v.Description = ""
	v.Modality = plainModality(v.Modality)
	v.Windows = plainWindows(v.Windows)
	v.Cleaned = cleanedBy
}

// cleanedBy is the code of the profile in CID 7050 (113100, recalled) and its name.
const cleanedBy = "113100 Basic Application Confidentiality Profile (DICOM PS3.15 Annex E)"

// plainModality keeps a modality only when it looks like one: two to four capitals.
func plainModality(m string) string {
	if len(m) < 2 || len(m) > 4 {
		return ""
	}
	for _, r := range m {
		if r < 'A' || r > 'Z' {
			return ""
		}
	}
	return m
}

// plainWindows drops the names of windows, which are free text.
func plainWindows(list []Window) []Window {
	out := append([]Window(nil), list...)
	for i := range out {
		out[i].Name = ""
	}
	return out
}
