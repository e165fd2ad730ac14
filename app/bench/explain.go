package bench

import (
	"errors"
	"fmt"
	"io/fs"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/drill"
	"sectionary/atlas/exchange"
	"sectionary/atlas/quiz"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// Errors of the bench itself.
var (
	// ErrNoLab says that no lab is open.
	ErrNoLab = errors.New("bench: no lab is open")
	// ErrNoPhoto says that the chosen face has no photograph.
	ErrNoPhoto = errors.New("bench: this face has no photograph")
	// ErrNoOutline says that no outline is chosen.
	ErrNoOutline = errors.New("bench: no outline is chosen")
	// ErrNoLetters says that side or top of the face is not declared, so nothing may be named.
	ErrNoLetters = errors.New("bench: the sides of this face are not known yet")
	// ErrOccupied says that a slab cannot go while a face of it has a photograph.
	ErrOccupied = errors.New("bench: a face of this slab has a photograph")
	// ErrForm says that something a form asks for is missing or cannot be.
	ErrForm = errors.New("bench: the form is not complete")
)

// explained ties each sentinel to its row in the table of words: "err.KEY" is the title, "err.KEY.hint" what to do.
// The first that fits is taken, so narrower errors stand before wider ones.
var explained = []struct {
	err error
	key string
}{
	{atlas.ErrLocked, "locked"}, {atlas.ErrReadOnly, "readonly"}, {atlas.ErrChanged, "changed"},
	{atlas.ErrKnownPhoto, "knownphoto"}, {atlas.ErrFaceTaken, "facetaken"}, {atlas.ErrNotPermitted, "notpermitted"},
	{atlas.ErrNotOriented, "notoriented"}, {atlas.ErrExists, "exists"}, {atlas.ErrShare, "share"}, {atlas.ErrLost, "lost"},
	{atlas.ErrInUse, "inuse"}, {atlas.ErrDeed, "deed"}, {atlas.ErrSameAgreement, "sameagreement"}, {atlas.ErrFull, "full"}, {atlas.ErrDisk, "disk"}, {atlas.ErrNotACopy, "notacopy"}, {atlas.ErrNewer, "newer"}, {atlas.ErrNotOurs, "notours"},
	{atlas.ErrDamaged, "damaged"}, {atlas.ErrNotFound, "notfound"},
	{register.ErrTurnedOver, "turnedover"}, {register.ErrOutOfOrder, "outoforder"},
	{annotate.ErrCrossing, "crossing"}, {annotate.ErrTooSmall, "toosmall"}, {annotate.ErrHole, "hole"},
	{annotate.ErrLevels, "levels"}, {annotate.ErrSVG, "svg"}, {annotate.ErrTerms, "terms"}, {annotate.ErrGrow, "grow"}, {annotate.ErrAnnotations, "labels"}, {annotate.ErrNoTerm, "noterm"},
	{atlas.ErrRetired, "retired"}, {atlas.ErrOtherFace, "otherface"}, {atlas.ErrCrossedTies, "crossedties"},
	{atlas.ErrOtherTop, "othertop"}, {atlas.ErrUnplaced, "unplaced"}, {atlas.ErrLabels, "labels"}, {atlas.ErrLabelGrid, "labelgrid"}, {annotate.ErrNoPoint, "nopoint"}, {annotate.ErrNoLabel, "nolabel"}, {annotate.ErrSameID, "sameid"},
	{annotate.ErrSide, "side"}, {annotate.ErrSamePerson, "sameperson"}, {annotate.ErrNotReady, "notready"},
	{photo.ErrNoScale, "noscale"}, {photo.ErrMirroredTies, "mirroredties"}, {photo.ErrHorizon, "horizon"},
	{photo.ErrFormat, "photoformat"}, {photo.ErrChart, "chart"}, {photo.ErrNoSheet, "nosheet"}, {photo.ErrNoEmbedded, "noembedded"}, {photo.ErrNoRuler, "noruler"}, {photo.ErrLens, "lens"}, {photo.ErrUnalike, "unalike"}, {photo.ErrNoGlare, "noglare"}, {photo.ErrOtherLens, "otherlens"}, {atlas.ErrStand, "stand"}, {photo.ErrNoFace, "noface"}, {register.ErrNothingToSee, "nothingtosee"}, {photo.ErrTooLarge, "phototoolarge"}, {photo.ErrDamaged, "photodamaged"},
	{scan.ErrNotScan, "notscan"}, {scan.ErrSetAside, "setaside"}, {atlas.ErrLocalizer, "localizer"}, {scan.ErrUnsupported, "scanunsupported"}, {scan.ErrDamaged, "scandamaged"},
	{scan.ErrTooLarge, "scantoolarge"}, {scan.ErrWindow, "window"},
	{section.ErrUnknown, "unknown"}, {section.ErrNotAFace, "notaface"}, {section.ErrNoSuchFace, "nosuchface"},
	{geom.ErrTooFewPoints, "toofew"}, {geom.ErrDegenerate, "degenerate"},
	{quiz.ErrLeak, "leak"}, {quiz.ErrUnscannable, "unscannable"}, {quiz.ErrRefused, "refused"}, {quiz.ErrExam, "exam"}, {atlas.ErrNotCleaned, "notcleaned"},
	{exchange.ErrNotOurs, "notrun"}, {exchange.ErrNewer, "newerrun"}, {exchange.ErrDamaged, "rundamaged"}, {exchange.ErrTooLarge, "runlarge"},
	{drill.ErrNotAPack, "notapack"}, {drill.ErrNewerPack, "newerpack"}, {drill.ErrDamaged, "packdamaged"}, {drill.ErrExpired, "packended"}, {drill.ErrTooLarge, "packlarge"},
	{drill.ErrNoQuestion, "noquestion"}, {drill.ErrNewerProgress, "newerprogress"}, {drill.ErrSetAside, "progressaside"},
	{ErrNoLab, "nolab"}, {ErrNoPhoto, "nophoto"}, {ErrNoOutline, "nooutline"}, {ErrNoLetters, "noletters"},
	{ErrOccupied, "occupied"}, {ErrForm, "form"},
	{fs.ErrNotExist, "notexist"}, {fs.ErrPermission, "permission"}, {fs.ErrExist, "exist"},
}

// Explain turns an error into words: what happened, the error's own sentence, and what to do.
func Explain(err error) Message {
	if err == nil {
		return Message{}
	}
	key := "other"
	for _, row := range explained {
		if errors.Is(err, row.err) {
			key = row.key
			break
		}
	}
	return Message{Title: Word("err." + key), Hint: fmt.Sprintf("%s\n%s", Word("err."+key+".hint"), Word("err.detail", err.Error()))}
}
