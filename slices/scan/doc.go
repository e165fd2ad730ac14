// Package scan reads CT and MR series (DICOM and NIfTI) as volumes in patient millimetres and cuts them at any pose.
//
// The road is Survey (headers only: which series lie in a folder, in true order, with warnings), Load (one series
// into memory), Volume.Slice (a flat cut) and Window.Gray (values to grey). Order always comes from the position
// of each slice along the normal, never from file names or instance numbers. Patient coordinates are DICOM's LPS;
// NIfTI's RAS is turned at the door of nifti.go and nowhere else.
package scan

import "errors"

var (
	// ErrNotScan says that a file is no CT or MR picture at all: text, a report, a directory record.
	ErrNotScan = errors.New("not a scan")
	// ErrUnsupported says that a file is a scan of a kind that this build cannot open. The message names the kind.
	ErrUnsupported = errors.New("this kind of picture cannot be opened")
	// ErrDamaged says that a file is cut short or contradicts itself.
	ErrDamaged = errors.New("damaged file")
	// ErrTooLarge says that a file claims more than this program will hold.
	ErrTooLarge = errors.New("too large to open")
	// ErrWindow says that a window cannot be applied: its width is below the least its function allows.
	ErrWindow = errors.New("window width is too small")
	// ErrSetAside says that a picture is sound but not needed: a copy, or one of several at one position.
	ErrSetAside = errors.New("set aside")
)
