// Package quiz makes what leaves the lab: labelled study pictures, exam pictures with numbered markers and
// their answer keys. Nothing is released before a scan of the finished files finds no trace of the donor.
package quiz

import (
	"context"
	"errors"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// Kind is what a hand-out is for.
type Kind string

// The kinds.
const (
	Study Kind = "study" // names and leaders
	Exam  Kind = "exam"  // numbered markers, and a separate answer key
)

// Paper is the size of a printed page.
type Paper string

// The papers.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// Language is how structures are named.
type Language string

// The languages.
const (
	English Language = "en"
	Latin   Language = "la"
)

// Request is one slip of the hand-out desk, filled in.
type Request struct {
	Purpose   atlas.Purpose
	Plates    []string // plate IDs, one page each, in order
	Kind      Kind
	Languages []Language // in order; none is English
	Title     string     // printed on every page; may be empty
	View      section.View
	Seed      uint64 // fixes the numbering of exam markers and the code
	Paper     Paper  // "" is A4
	// Labels chosen to be named or marked, by plate and label ID; a plate without an entry takes all that may be.
	Labels map[string][]string
	// Words that must not stand in any file besides the donor codes: names on tags, file names.
	Words []string
	// Ethics replaces the line of respect at the foot of study pictures; "" keeps the usual one.
	Ethics string
}

// LeftOut is a label that was not named or marked, and why.
type LeftOut struct {
	Plate  string `json:"plate"`
	Label  string `json:"label"`
	Term   string `json:"term"`
	Reason string `json:"reason"`
}

// File is one released file: its base name and SHA-256.
type File struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	What   string `json:"what"` // "picture", "page" or "answer key"
}

// Slip is the outcome of a request, allowed or refused.
type Slip struct {
	Allowed  bool      `json:"allowed"`
	Reason   string    `json:"reason"` // why not, in a sentence; "" when allowed
	Code     string    `json:"code"`   // the random hand-out code printed on every page
	Files    []File    `json:"files"`
	LeftOut  []LeftOut `json:"leftOut"`
	LeakScan Scan      `json:"leakScan"`
}

// Scan is what the search of the finished files found. A clean scan has no leaks.
type Scan struct {
	Files int    `json:"files"`
	Bytes int64  `json:"bytes"` // looked through, unpacked streams included
	Leaks []Leak `json:"leaks"`
}

// Leak is one trace found in a finished file.
type Leak struct {
	File  string `json:"file"`
	Where string `json:"where"` // "bytes", "stream 4", "member a.png", "chunk tEXt" and the like
	What  string `json:"what"`  // "donor code", "word", "EXIF", "XMP", "text chunk" and the like
}

var errSoon = errors.New("quiz: not built yet")

// ErrLeak says that a finished file holds something that must not leave; nothing was released.
var ErrLeak = errors.New("quiz: a finished file holds something that must not leave")

// ErrRefused says that a request cannot be met as it is; the message says why.
var ErrRefused = errors.New("quiz: cannot be handed out")

// HandOut makes the files of a request in outDir. A refusal is no error: the slip says why and the library's
// record holds it. Errors are failures to write, to read or to record.
func HandOut(ctx context.Context, lib *atlas.Library, terms *annotate.Terms, r Request, outDir string) (Slip, error) {
	return Slip{}, errSoon
}
