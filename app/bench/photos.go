package bench

import (
	"context"
	"image"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

var pictureEndings = []string{".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif"}

func isPicture(path string) bool {
	return slices.Contains(pictureEndings, strings.ToLower(filepath.Ext(path)))
}

// intakeRoom is what is known of photographs being taken in and of the last ones that were.
type intakeRoom struct {
	job     *job
	run     string       // that they are taken in for
	on      section.Face // where a single photograph goes; zero for the table
	box     *mailbox
	coming  []TrayPhoto // not in the lab yet, in the order proposed
	waiting []string    // given while others are taken in
	left    []string    // not come to when it was stopped
	came    int         // taken in of this batch
	keys    int         // given out in this sitting
	batches int
	faults  []IntakeFault
	twins   []IntakeTwin
	tick    func() // cancels the next look into the box
}

// IntakeFault is a file that could not be taken in.
type IntakeFault struct{ Name, Words string }

// IntakeTwin is a file whose bytes are in the lab already.
type IntakeTwin struct {
	Name  string
	plate atlas.Plate
}

// Intake tells how far the taking in of photographs is.
type Intake struct {
	Running     bool
	Done, Total int
	Came        int    // taken in of the last batch
	Left        int    // files not come to when it was stopped
	Words       string // "17 of 200 taken in", "" when there is nothing to say
	Faults      []IntakeFault
	Twins       []string // "IMG_7.jpg is here already: slab 3, upper face"
}

// collectPause is how often news of an intake comes to the screen.
const collectPause = 200 * time.Millisecond

func printKey(n int) string { return "new" + strconv.Itoa(n) }

// AddPhotos takes photographs in, as a job: a single one goes onto the chosen face when that has none, all others
// onto the receiving table in the order they were taken. One that cannot be read is named and does not stop the others.
// Those given while others are taken in wait for them.
func (b *Bench) AddPhotos(paths []string) {
	if err := b.writable(); err != nil {
		b.Report(err)
		return
	}
	run := b.Run()
	if run.ID == "" {
		b.say(Message{Title: Word("show.norun"), Hint: Word("show.norun.hint")})
		return
	}
	t := &b.take
	if t.job != nil {
		t.waiting = append(t.waiting, paths...)
		b.hint(count("take.waiting", len(t.waiting)), false)
		return
	}
	_, taken := b.rule.facts[b.rule.face]
	if len(paths) == 1 && taken && b.screen == FaceScreen && b.pictures() != nil {
		b.OfferAgain(func() { b.NewPicture(paths[0]) }, func() { b.beginIntake(paths, section.Face{}) })
		return
	}
	var on section.Face
	if len(paths) == 1 && !taken && b.screen != ReceivingScreen {
		on = b.rule.face
	}
	b.beginIntake(paths, on)
	if len(paths) > 1 && (b.screen == RunScreen || b.screen == FaceScreen) {
		b.Show(ReceivingScreen)
	}
}

func (b *Bench) beginIntake(paths []string, on section.Face) {
	t := &b.take
	run, single := b.Run(), len(paths) == 1
	t.left, t.faults, t.twins, t.came, t.coming = nil, nil, nil, 0, nil
	t.run, t.box, t.on = run.ID, &mailbox{}, on
	x := &batch{lib: b.lab.lib, on: on, donor: run.Donor, paths: paths, first: t.keys, box: t.box}
	t.keys += len(paths)
	t.batches++
	t.job = b.start(Word("job.photos"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		left := x.take(ctx, tell)
		return func() { b.intakeEnded(run.ID, left, single) }, nil
	})
	t.job.total.Store(int64(len(paths)))
	b.lookAgain(run.ID)
}

// lookAgain brings news to the screen in a while, as long as photographs are taken in.
func (b *Bench) lookAgain(run string) {
	b.take.tick = b.run.After(collectPause, func() {
		if b.take.job != nil {
			b.collect(run)
			b.lookAgain(run)
		}
	})
}

// StopIntake ends the taking in; what was taken in stays, and the rest is remembered for GoOnIntake.
func (b *Bench) StopIntake() {
	if j := b.take.job; j != nil {
		b.take.waiting = nil
		b.CancelJob(j.id)
	}
}

// GoOnIntake takes in the files that were not come to.
func (b *Bench) GoOnIntake() {
	if left := b.take.left; b.take.job == nil && len(left) > 0 {
		b.AddPhotos(left)
	}
}

// ForgetFaults clears the list of files that could not be taken in or were here already.
func (b *Bench) ForgetFaults() {
	b.take.faults, b.take.twins, b.take.left = nil, nil, nil
	b.changed(LabChanged)
}

// intakeEnded follows a batch that was gone through or stopped.
func (b *Bench) intakeEnded(run string, left []string, single bool) {
	t := &b.take
	if t.tick != nil {
		t.tick()
	}
	b.collect(run)
	t.job, t.coming, t.left = nil, nil, left
	if b.Run().ID != run {
		for _, n := range t.box.take() { // what came in lies on that run's table when it is opened again
			if n.err != nil || n.known != nil {
				b.hear(n, nil)
			}
		}
		_ = b.readLab()
		b.changed(LabChanged)
		return
	}
	if b.rule.hist != nil {
		b.readFaces()
	}
	if single {
		for _, f := range t.faults {
			b.say(Message{Title: Word("take.fault.one", f.Name), Hint: f.Words})
		}
		for _, x := range t.twins {
			b.say(Message{Title: b.twinWords(x)})
		}
	}
	if t.came > 0 {
		b.hint(count("photos.came", t.came, len(b.lab.tray)), false)
	}
	b.changed(LabChanged | RunChanged | PlateChanged | ViewChanged)
	if next := t.waiting; len(next) > 0 && b.writable() == nil {
		t.waiting = nil
		faults, twins := t.faults, t.twins
		b.beginIntake(next, section.Face{})
		t.faults, t.twins = faults, twins
	}
}

// collect takes the news of an intake up.
func (b *Bench) collect(run string) {
	t := &b.take
	if b.Run().ID != run { // the person is at another run: news waits
		return
	}
	list := t.box.take()
	if len(list) == 0 {
		return
	}
	checks := map[string]photo.Check{}
	for _, n := range list {
		b.hear(n, checks)
	}
	if b.rule.checks == nil {
		b.rule.checks = map[string]photo.Check{}
	}
	for id, c := range checks {
		b.rule.checks[id] = c
	}
	b.sortTray()
	b.remarkTray()
	b.changed(LabChanged)
}

// hear takes one piece of news up.
func (b *Bench) hear(n news, checks map[string]photo.Check) {
	t := &b.take
	i := slices.IndexFunc(t.coming, func(p TrayPhoto) bool { return p.key == n.key })
	if i < 0 && (n.shot != nil || n.small != nil) {
		t.coming = append(t.coming, TrayPhoto{key: n.key})
		i = len(t.coming) - 1
	}
	drop := func() {
		if i >= 0 {
			t.coming = slices.Delete(t.coming, i, i+1)
		}
	}
	switch {
	case n.shot != nil:
		p := &t.coming[i]
		p.Taken, p.at, p.size, p.Mirrored = n.shot.info.Taken, t.batches<<32+n.shot.at, n.shot.info.Size, n.shot.info.Mirrored
	case n.small != nil:
		t.coming[i].Preview = n.small
	case n.err != nil:
		drop()
		t.faults = append(t.faults, IntakeFault{n.name, faultReason(n.err)})
	case n.known != nil:
		drop()
		t.twins = append(t.twins, IntakeTwin{n.name, *n.known})
	case n.plate != nil:
		var p TrayPhoto
		if i >= 0 {
			p = t.coming[i]
		}
		drop()
		t.came++
		if n.check != nil {
			checks[n.plate.ID] = *n.check
		}
		b.cameIn(p, *n.plate, n.preview)
	case n.preview != nil && i >= 0:
		t.coming[i].Preview, t.coming[i].Sharp = n.preview, true
	}
}

// cameIn lays a photograph that is in the lab now on the table, or on the face it was taken for.
func (b *Bench) cameIn(p TrayPhoto, plate atlas.Plate, preview *image.RGBA) {
	if plate.Face != (section.Face{}) {
		b.readFaces()
		if plate.Face == b.rule.face {
			b.openDoc()
			if plate.Photo.Mirrored {
				b.askMirrored()
			}
		}
		return
	}
	p.ID, p.Taken, p.size, p.Sharp, p.Preview = plate.ID, plate.Photo.Taken, plate.Photo.Size, true, preview
	p.Mirrored = asksMirrored(plate)
	b.lab.remember(p)
	if i := slices.IndexFunc(b.lab.tray, func(x TrayPhoto) bool { return x.ID == plate.ID }); i >= 0 {
		b.lab.tray[i] = p
		return
	}
	b.lab.tray = append(b.lab.tray, p)
}

// arriving is the picture of a photograph that is being taken in for the chosen face, as far as it is known; nil for none.
func (b *Bench) arriving() *image.RGBA {
	if t := &b.take; t.job != nil && t.on == b.rule.face && t.on != (section.Face{}) && len(t.coming) > 0 {
		return t.coming[0].Preview
	}
	return nil
}

func asksMirrored(p atlas.Plate) bool { return p.Photo.Mirrored && p.Mirrored == atlas.Unanswered }

// faultReason says in words why a file could not be taken in, and what to do.
func faultReason(err error) string {
	m := Explain(err)
	what, _, _ := strings.Cut(m.Hint, "\n")
	return strings.TrimSpace(m.Title + " " + what)
}

// twinWords says which picture is here already, and where it lies.
func (b *Bench) twinWords(x IntakeTwin) string {
	return Word("take.twin", x.Name, b.whereLies(x.plate))
}

// whereLies says where a photograph of the lab lies now.
func (b *Bench) whereLies(p atlas.Plate) string {
	if f, there := b.laidOn(p.ID); there {
		return b.Run().Name(f)
	}
	for i, t := range b.Prints() {
		if t.ID == p.ID {
			return Word("take.twin.table", i+1)
		}
	}
	switch {
	case p.Retired:
		return Word("take.twin.retired", b.FaceName(p.Face))
	case p.Face == (section.Face{}):
		return Word("take.twin.tray", p.Donor)
	}
	for _, r := range b.lab.runs {
		if r.ID == p.Face.Run {
			return Word("take.twin.run", b.FaceName(p.Face), r.Donor, r.Part)
		}
	}
	return b.FaceName(p.Face)
}

// laidOn is the face of the run on which a photograph lies.
func (b *Bench) laidOn(id string) (section.Face, bool) {
	for f, x := range b.rule.facts {
		if x.plate == id {
			return f, true
		}
	}
	return section.Face{}, false
}

// Intake tells how far the taking in is, and what came of it.
func (b *Bench) Intake() Intake {
	t := &b.take
	i := Intake{Running: t.job != nil, Came: t.came, Left: len(t.left), Faults: slices.Clone(t.faults)}
	for _, x := range t.twins {
		i.Twins = append(i.Twins, b.twinWords(x))
	}
	if t.job != nil {
		i.Done, i.Total = int(t.job.done.Load()), int(t.job.total.Load())
		i.Words = Word("take.progress", i.Done, i.Total)
		if len(t.waiting) > 0 {
			i.Words += " " + count("take.waiting", len(t.waiting))
		}
		return i
	}
	var said []string
	if i.Left > 0 {
		said = append(said, count("take.stopped", i.Left))
	}
	if n := len(i.Faults) + len(i.Twins); n > 0 {
		said = append(said, count("take.trouble", n))
	}
	i.Words = strings.Join(said, " ")
	return i
}
