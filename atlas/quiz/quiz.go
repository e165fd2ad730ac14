// Package quiz makes what leaves the lab: labelled study pictures, exam pictures with numbered markers and
// their answer keys. Nothing is released before a scan of the finished files finds no trace of the donor.
//
// A page is laid out once in millimetres of paper (page.go) and painted by two brushes, into pixels (paint.go)
// and into PDF (pdf.go), so that both show the same.
package quiz

import (
	"errors"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// ErrLeak says that a finished file holds something that must not leave; nothing was released.
var ErrLeak = errors.New("quiz: a finished file holds something that must not leave")

// ErrRefused says that a request cannot be met as it is; the slip and the record say why.
var ErrRefused = errors.New("quiz: cannot be handed out")

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

// Respect is the line at the foot of every picture, unless the lab has its own words.
const Respect = "We learn here from people who chose to give their bodies. Treat every picture as you would treat the person."

// NotForDiagnosis stands on every page and cannot be changed.
const NotForDiagnosis = "For teaching. Not for diagnosis."

// Corrected stands on every picture whose colours were corrected.
const Corrected = "colour corrected: fixed tissue colour, not living colour"

// Practice stands on every picture of practice material.
const Practice = "Synthetic practice picture"

// Request is one slip of the hand-out desk, filled in.
type Request struct {
	Purpose   atlas.Purpose
	Plates    []string // plate IDs, one page each, in order
	Kind      Kind
	Languages []Language // in order; none is English
	Title     string     // printed on every page; may be empty
	View      section.View
	Seed      uint64 // fixes exam numbering and the code; 0 takes a random code
	Paper     Paper  // "" is A4
	// Labels chosen to be named or marked, label IDs by plate; a plate without an entry takes all that may be.
	Labels map[string][]string
	// NoTags is a person's word that pictures without border and tag mask show no tag or writing.
	NoTags bool
	// SignedOnly leaves out labels that no second person has signed.
	SignedOnly bool
	// Words that must not stand in any file besides the donor codes: names on tags, file names.
	Words []string
	// Respect replaces the line at the foot; "" keeps the usual one.
	Respect string
}

// LeftOut is a label that was not named or marked, and why.
type LeftOut struct {
	Plate  string `json:"plate"`
	Label  string `json:"label"`
	Name   string `json:"name"`
	Reason string `json:"reason"`
}

// File is one released file: its base name, SHA-256 and what it is: "picture", "pages" or "answer key".
type File struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	What   string `json:"what"`
}

// Slip is the outcome of a request, allowed or refused.
type Slip struct {
	Allowed  bool      `json:"allowed"`
	Reason   string    `json:"reason"` // why not, in a sentence; "" when allowed
	Code     string    `json:"code"`   // the random hand-out code printed on every page
	Files    []File    `json:"files"`
	LeftOut  []LeftOut `json:"leftOut"`
	Notes    []string  `json:"notes"` // what a person should look at before using it
	LeakScan Scan      `json:"leakScan"`
}

// refusal is why a request cannot be met, in a sentence for the slip.
type refusal string

func (r refusal) Error() string { return ErrRefused.Error() + ": " + string(r) }

// Unwrap returns ErrRefused.
func (r refusal) Unwrap() error { return ErrRefused }
