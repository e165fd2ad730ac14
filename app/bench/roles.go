package bench

import "fmt"

// Role is what a person at the bench does today. It is a name chosen at opening that says what stands at hand; it keeps
// nobody out. A student is different: a study pack holds no donor's facts, so there is nothing to reach.
type Role uint8

// The roles.
const (
	Instructor Role = iota
	Technician
	Student
)

// String is the role's key in the table of words.
func (r Role) String() string {
	return [...]string{"instructor", "technician", "student"}[min(r, Student)]
}

// Role is who is at the bench: a student while a study pack is open.
func (b *Bench) Role() Role {
	if b.study.open() {
		return Student
	}
	return b.role
}

// SetRole takes a role of the lab. A student opens a study pack instead.
func (b *Bench) SetRole(r Role) {
	if r != Instructor && r != Technician {
		return
	}
	b.role = r
	if r == Technician && examScreens[b.screen] {
		b.enter(RunScreen)
	}
	b.changed(LabChanged | ScreenChanged)
}

// examScreens are the places of exam items, which do not lie about while someone saws and photographs.
var examScreens = map[Screen]bool{StationsScreen: true, FreshScreen: true, RoomScreen: true, PackScreen: true}

// wholeDisplay are the screens that fill the whole display.
var wholeDisplay = map[Screen]bool{FreshScreen: true, RoomScreen: true}

// Fills reports whether a screen takes the whole display, without the strips of the bench.
func (s Screen) Fills() bool { return wholeDisplay[s] }

// studyScreens are all the places a student has.
var studyScreens = map[Screen]bool{StudyScreen: true, DrillScreen: true}

// mayShow reports whether a role has a place.
func (r Role) mayShow(s Screen) bool {
	switch r {
	case Student:
		return studyScreens[s]
	case Technician:
		return !examScreens[s] && s != StudyScreen
	}
	return s != StudyScreen
}

// studentCommands are all the commands of a student, by id: looking, comparing, drilling, and leaving.
var studentCommands = map[string]bool{"blank": true, "back": true}

// mayDo says why a command is not one of the role's, "" when it is.
func (b *Bench) mayDo(c *command) string {
	if b.Role() == Student && !studentCommands[c.id] && c.group != "study" && c.group != "drill" {
		return Word("role.student")
	}
	return ""
}

// Offers reports whether a place stands at hand: in the role, and with what is open.
func (b *Bench) Offers(s Screen) bool {
	if !b.Role().mayShow(s) || wholeDisplay[s] {
		return false
	}
	if studyScreens[s] && b.study.open() {
		return true
	}
	return b.lab.lib != nil && !studyScreens[s]
}

// ofLab fails while a student is at the bench: no lab opens beside a study pack.
func (b *Bench) ofLab() error {
	if b.Role() == Student {
		return fmt.Errorf("%w: %s", ErrForm, Word("role.student"))
	}
	return nil
}
