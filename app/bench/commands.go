package bench

import (
	"strconv"

	"sectionary/slices/section"
)

// command is one row of the table of all that can be done. The words are "cmd.ID" of the table of words.
type command struct {
	id, key, group string
	on             []Screen // where its key counts; none: everywhere
	why            func(b *Bench) string
	run            func(b *Bench)
}

var onRun, onFace, onPair = []Screen{RunScreen, FaceScreen, PairingScreen}, []Screen{FaceScreen}, []Screen{PairingScreen}
var onStations, onFresh, onRoom = []Screen{StationsScreen}, []Screen{FreshScreen}, []Screen{RoomScreen}
var onStudy, onDrill = []Screen{StudyScreen}, []Screen{DrillScreen}
var onBook = []Screen{BookScreen}
var onTable = []Screen{ReceivingScreen}
var onShelf = []Screen{RunScreen, HandOutScreen}
var onAgain = []Screen{AgainScreen}
var onPicture = []Screen{FaceScreen, PairingScreen}

// commandTable feeds menu, side rail, keyboard and tips.
var commandTable = []command{
	{"prev", "Up", "run", onRun, needRun, func(b *Bench) { b.Step(-1) }},
	{"next", "Down", "run", onRun, needRun, func(b *Bench) { b.Step(1) }},
	{"prev.slab", "Shift+Up", "run", onRun, needRun, func(b *Bench) { b.StepSlab(-1) }},
	{"next.slab", "Shift+Down", "run", onRun, needRun, func(b *Bench) { b.StepSlab(1) }},
	{"across", "K", "run", onRun, needFace, (*Bench).Across},
	{"other", "F", "run", onRun, needFace, (*Bench).OtherFace},
	{"book", "Z", "run", onRun, needCut, (*Bench).OpenBook},
	{"cut.prev", "Up", "cut", onBook, needCut, func(b *Bench) { b.StepCut(-1) }},
	{"cut.next", "Down", "cut", onBook, needCut, func(b *Bench) { b.StepCut(1) }},
	{"book.open", "1", "cut", onBook, needCut, func(b *Bench) { b.SetBookWay(BookOpen) }},
	{"book.over", "2", "cut", onBook, needCut, func(b *Bench) { b.SetBookWay(BookOver) }},
	{"book.difference", "3", "cut", onBook, needCut, func(b *Bench) { b.SetBookWay(BookDifference) }},
	{"book.whole", "0", "cut", onBook, needCut, func(b *Bench) { b.leaves.home() }},
	{"book.page", "Z", "cut", onBook, needCut, (*Bench).Across},

	{"table.lay", "Return", "table", onTable, needRun, (*Bench).tableEnter},
	{"table.look", "Space", "table", onTable, needPrints, (*Bench).LookLarge},
	{"table.off", "Delete", "table", onTable, needRun, (*Bench).tableDelete},
	{"table.propose", "T", "table", onTable, needPrints, (*Bench).Propose},
	{"table.on", ".", "table", onTable, needProposal, func(b *Bench) { b.ShiftFrom(1) }},
	{"table.back", ",", "table", onTable, needProposal, func(b *Bench) { b.ShiftFrom(-1) }},
	{"table.all", "Ctrl+A", "table", onTable, needPrints, (*Bench).ChooseAllPrints},
	{"table.stop", "X", "table", onTable, needIntake, (*Bench).StopIntake},

	{"scale", "S", "tool", onFace, needPhoto, tool(ToolScale)},
	{"axes", "X", "tool", onFace, needPhoto, tool(ToolAxes)},
	{"outline", "O", "tool", onFace, needLetters, tool(ToolOutline)},
	{"name", "N", "tool", onFace, needLetters, tool(ToolName)},
	{"measure", "M", "tool", onFace, needPhoto, tool(ToolMeasure)},
	{"mask", "T", "tool", onFace, needPhoto, tool(ToolMask)},
	{"colour", "R", "tool", onFace, needPhoto, tool(ToolColour)},
	{"border", "B", "tool", onFace, needPhoto, tool(ToolBorder)},
	{"close", "Return", "tool", onFace, nil, (*Bench).enterKey},
	{"by.points", "1", "draw", onFace, needLetters, manner(ByPoints)},
	{"by.freehand", "2", "draw", onFace, needLetters, manner(ByFreehand)},
	{"by.follow", "3", "draw", onFace, needLetters, manner(ByFollowing)},
	{"by.fill", "4", "draw", onFace, needLetters, manner(ByFilling)},
	{"by.round", "5", "draw", onFace, needLetters, manner(ByRound)},
	{"fill.less", "[", "draw", onFace, needPhoto, func(b *Bench) { b.FillMore(1 / 1.25) }},
	{"fill.more", "]", "draw", onFace, needPhoto, func(b *Bench) { b.FillMore(1.25) }},
	{"smooth", "H", "draw", onFace, needChosen, (*Bench).Smooth},
	{"join", "J", "draw", onFace, needChosen, (*Bench).Join},
	{"point.prev", ",", "draw", onFace, needRow, func(b *Bench) { b.nextPart(-1) }},
	{"point.next", ".", "draw", onFace, needRow, func(b *Bench) { b.nextPart(1) }},
	{"delete", "Delete", "tool", onFace, nil, (*Bench).deleteKey},
	{"sure", "U", "tool", onFace, needChosen, (*Bench).NextSure},
	{"sign", "C", "tool", onFace, needChosen, func(b *Bench) { b.Report(b.SignChosen()) }},
	{"second", "L", "tool", onFace, needLetters, (*Bench).ReadAgain},
	{"discuss", "Q", "tool", onFace, needCompared, func(b *Bench) { b.Report(b.DiscussCompared()) }},

	{"carry", "E", "face", onFace, needCarry, (*Bench).BringOutlines},
	{"carry.keep", "Y", "face", onFace, needKept, (*Bench).keepKey},

	{"view", "V", "view", onPicture, needPhoto, (*Bench).ToggleView},
	{"marks", "", "view", onFace, needPhoto, func(b *Bench) { b.SetMarks(!b.Marks()) }},
	{"check.run", "", "view", onFace, needRun, (*Bench).CheckRun},
	{"grid", "G", "view", onPicture, needPhoto, func(b *Bench) { b.SetGrid(!b.Grid()) }},
	{"fit", "0", "view", onPicture, nil, (*Bench).FitView},
	{"nearer", "+", "view", onPicture, needPhoto, func(b *Bench) { b.ZoomBy(1.25) }},
	{"further", "-", "view", onPicture, needPhoto, func(b *Bench) { b.ZoomBy(0.8) }},
	{"blank", "F9", "view", nil, nil, (*Bench).Blank},

	{"scan.prev", ",", "scan", onPair, needScan, func(b *Bench) { b.StepScan(-1) }},
	{"scan.next", ".", "scan", onPair, needScan, func(b *Bench) { b.StepScan(1) }},
	{"scan.home", "Home", "scan", onPair, needScan, (*Bench).ScanHome},
	{"tie.level", "L", "scan", onPair, needScan, (*Bench).TieLevelHere},
	{"fit.content", "C", "scan", onPair, needFit, (*Bench).FitByContent},
	{"fit.sag", "R", "scan", onPair, needSag, (*Bench).FollowSag},
	{"whole", "I", "scan", onPair, needWhole, (*Bench).SolveWhole},
	{"outlines", "O", "scan", onPair, needScan, func(b *Bench) { b.SetOutlinesOnScan(!b.OutlinesOnScan()) }},
	{"find.face", "Q", "scan", onPair, needScan, (*Bench).FindFace},
	{"scan.measure", "M", "scan", onPair, needScan, (*Bench).ToggleScanMeasure},
	{"scan.close", "Return", "scan", onPair, nil, (*Bench).closeScanMeasure},
	{"narrower", "[", "scan", onPair, needScan, (*Bench).Narrower},
	{"wider", "]", "scan", onPair, needScan, (*Bench).Wider},

	{"look.next", "I", "face", onFace, needLook, (*Bench).nextLook},
	{"again.accept", "Return", "again", onAgain, needAccept, func(b *Bench) { b.Report(b.AcceptAgain()) }},
	{"again.delete", "Delete", "again", onAgain, nil, func(b *Bench) { b.backAgain() }},
	{"again.seek", "C", "again", onAgain, needLaying, (*Bench).SeekTies},
	{"again.take", "Y", "again", onAgain, needOffers, (*Bench).TakeOffers},
	{"again.turn", "R", "again", onAgain, needLaying, (*Bench).TurnNewPicture},
	{"again.outlines", "O", "again", onAgain, nil, func(b *Bench) { b.SetAgainOutlines(b.again.hidden) }},
	{"again.fit", "0", "again", onAgain, nil, (*Bench).fitAgainViews},

	{"undo", "Ctrl+Z", "edit", nil, needUndo, (*Bench).Undo},
	{"redo", "Ctrl+Y", "edit", nil, needRedo, (*Bench).Redo},

	{"go.run", "", "go", nil, needRun, func(b *Bench) { b.Show(RunScreen) }},
	{"go.face", "", "go", nil, needFace, func(b *Bench) { b.Show(FaceScreen) }},
	{"go.pair", "", "go", nil, needFace, func(b *Bench) { b.Show(PairingScreen) }},
	{"go.handout", "P", "go", onRun, needRun, func(b *Bench) { b.Show(HandOutScreen) }},
	{"go.stations", "", "go", nil, needRun, func(b *Bench) { b.Show(StationsScreen) }},
	{"go.pack", "", "go", nil, needRun, func(b *Bench) { b.Show(PackScreen) }},
	{"go.receiving", "T", "go", []Screen{RunScreen}, needRun, func(b *Bench) { b.Show(ReceivingScreen) }},
	{"go.rack", "R", "go", onShelf, needRun, func(b *Bench) { b.Show(RackScreen) }},
	{"go.ledger", "", "go", nil, needRun, (*Bench).ShowWholeLedger},
	{"back", "Escape", "go", nil, nil, (*Bench).Back},

	{"station.prev", "Up", "exam", onStations, needStation, func(b *Bench) { b.StepStation(-1) }},
	{"station.next", "Down", "exam", onStations, needStation, func(b *Bench) { b.StepStation(1) }},
	{"station.earlier", "Shift+Up", "exam", onStations, needStation, func(b *Bench) { b.MoveStation(-1) }},
	{"station.later", "Shift+Down", "exam", onStations, needStation, func(b *Bench) { b.MoveStation(1) }},
	{"station.remove", "Delete", "exam", onStations, needStation, (*Bench).RemoveStation},
	{"fresh", "L", "exam", onStations, needStation, (*Bench).LookFresh},
	{"room", "P", "exam", onStations, needStation, (*Bench).ShowRoom},
	{"fresh.accept", "Return", "fresh", onFresh, nil, (*Bench).AcceptFresh},
	{"fresh.back", "Delete", "fresh", onFresh, nil, func(b *Bench) { b.SendBack("") }},
	{"fresh.prev", "Up", "fresh", onFresh, nil, func(b *Bench) { b.StepFresh(-1) }},
	{"fresh.next", "Down", "fresh", onFresh, nil, func(b *Bench) { b.StepFresh(1) }},
	{"room.go", "Space", "room", onRoom, nil, (*Bench).RoomGo},
	{"room.prev", "Up", "room", onRoom, nil, func(b *Bench) { b.RoomStep(-1) }},
	{"room.next", "Down", "room", onRoom, nil, func(b *Bench) { b.RoomStep(1) }},

	{"study.prev", "Up", "study", onStudy, nil, func(b *Bench) { b.StepStudy(-1) }},
	{"study.next", "Down", "study", onStudy, nil, func(b *Bench) { b.StepStudy(1) }},
	{"study.names", "N", "study", onStudy, nil, (*Bench).ToggleStudyNames},
	{"study.compare", "C", "study", onStudy, needStudyScan, (*Bench).ToggleStudyCompare},
	{"study.close", "", "study", onStudy, nil, (*Bench).CloseStudy},
	{"drill", "D", "study", onStudy, needDrill, func(b *Bench) { b.Show(DrillScreen) }},
	{"drill.next", "Return", "drill", onDrill, nil, (*Bench).drillEnter},
	{"drill.skip", "?", "drill", onDrill, nil, (*Bench).DrillSkip},
	{"drill.hint", "H", "drill", onDrill, nil, (*Bench).DrillHint},
	{"drill.unseen", "U", "drill", onDrill, nil, (*Bench).DrillUnseen},

	{"practice", "", "lab", nil, nil, (*Bench).MakePractice},
	{"close.lab", "", "lab", nil, needLab, func(b *Bench) { b.Report(b.CloseLab()) }},
}

// The same keys by other names: pedals send Page Up and Page Down.
var keyAlias = map[string]string{"Page Up": "Up", "Page Down": "Down", "Enter": "Return", "Backspace": "Delete", "=": "+"}

// Left and Right are the way to step where nothing is drawn.
var stepAlias = map[string]string{"Left": "Up", "Right": "Down"}

func tool(t Tool) func(*Bench) {
	return func(b *Bench) {
		if b.draw.tool == t {
			b.SetTool(ToolPan) // the same key puts it away
			return
		}
		b.SetTool(t)
	}
}

// manner takes the outline tool, if it is not in hand, and a way to outline.
func manner(m Manner) func(*Bench) {
	return func(b *Bench) {
		if b.draw.tool != ToolOutline {
			b.SetTool(ToolOutline)
		}
		b.SetManner(m)
	}
}

func when(lacks bool, key string) string {
	if lacks {
		return Word(key)
	}
	return ""
}

func needLab(b *Bench) string    { return when(b.lab.lib == nil, "err.nolab") }
func needRun(b *Bench) string    { return when(b.Run().ID == "", "show.norun") }
func needFace(b *Bench) string   { return when(b.Face() == (section.Face{}), "show.noface") }
func needPhoto(b *Bench) string  { return when(b.doc == nil, "err.nophoto") }
func needUndo(b *Bench) string   { return when(b.UndoName() == "", "undo.nothing") }
func needRedo(b *Bench) string   { return when(b.RedoName() == "", "redo.nothing") }
func needChosen(b *Bench) string { return when(b.draw.chosen == "", "err.nooutline") }
func needScan(b *Bench) string   { return when(b.pair.volume == nil, "pair.noscan") }

func needPrints(b *Bench) string { return when(len(b.Prints()) == 0, "table.none") }
func needIntake(b *Bench) string { return when(b.take.job == nil, "take.none") }

func needProposal(b *Bench) string { return when(b.table.proposal == nil, "table.noproposal") }

// tableEnter lays what is proposed, else what is chosen; it puts the large look back.
func (b *Bench) tableEnter() {
	switch {
	case b.table.large != nil:
		b.LookLarge()
	case b.table.proposal != nil:
		b.AcceptProposal()
	default:
		b.LayChosen()
	}
}

// tableDelete takes prints out of the proposal, or the picture off the chosen edge.
func (b *Bench) tableDelete() {
	if b.table.proposal != nil {
		b.LeaveOut()
		return
	}
	b.TakeOff()
}

func needLetters(b *Bench) string {
	if err := b.nameable(); err != nil {
		return Explain(err).Title
	}
	return ""
}

// enterKey sets a point at the keyboard's cross, closes an outline, or accepts a scale that is ready.
func (b *Bench) enterKey() {
	if b.enterAtCursor() {
		return
	}
	if b.draw.tool == ToolScale && b.draw.scale.Ready {
		b.Report(b.AcceptScale())
		return
	}
	if b.draw.tool == ToolColour && b.draw.colour.Ready {
		b.Report(b.AcceptColour())
		return
	}
	if b.draw.tool == ToolBorder {
		b.AcceptBorder()
		return
	}
	if b.draw.tool == ToolMeasure {
		b.closeMeasure()
		return
	}
	if _, proposed := b.ProposedUp(); proposed && b.draw.tool == ToolAxes {
		b.AcceptUp()
		return
	}
	if _, proposed := b.ProposedMask(); proposed && !b.draw.drawing() && (b.draw.tool == ToolMask || b.draw.tool == ToolPan) {
		b.AcceptMask()
		return
	}
	b.CloseOutline()
}

// Commands lists everything the program can do.
func (b *Bench) Commands() []Command {
	out := make([]Command, 0, len(commandTable))
	for i := range commandTable {
		c := &commandTable[i]
		label := Word("cmd." + c.id)
		switch name := ""; c.id {
		case "undo":
			if name = b.UndoName(); name != "" {
				label = Word("cmd.undo.what", name)
			}
		case "redo":
			if name = b.RedoName(); name != "" {
				label = Word("cmd.redo.what", name)
			}
		}
		why := ""
		if why = b.mayDo(c); why == "" && c.why != nil {
			why = c.why(b)
		}
		out = append(out, Command{ID: c.id, Label: label, Key: c.key, Group: c.group, Enabled: why == "", Why: why,
			Run: func() { b.Do(c.id) }})
	}
	return out
}

// Do runs a command by its id and reports whether it could; one that cannot says why.
func (b *Bench) Do(id string) bool {
	for i := range commandTable {
		c := &commandTable[i]
		if c.id != id {
			continue
		}
		if why := b.mayDo(c); why != "" {
			b.hint(why, true)
			return false
		}
		if c.why != nil {
			if why := c.why(b); why != "" {
				b.hint(why, true)
				return false
			}
		}
		if len(b.draw.outline) > 0 && c.leaves() {
			b.hint(Word("outline.open"), true)
			return false
		}
		c.run(b)
		return true
	}
	return false
}

// leaves reports whether a command would drop an outline half drawn: another face, screen or tool.
func (c *command) leaves() bool {
	switch c.id {
	case "close", "delete", "back":
		return false
	}
	return c.group == "run" || c.group == "tool" || c.group == "go" || (c.group == "draw" && c.id[:3] == "by.")
}

// Key takes a key pressed ("Up", "Page Down", "A", "[", "Escape", "Return", "Delete", "F9"); it reports whether it was
// used. While the bench is blank only F9 and Escape count, while a message waits only Escape.
func (b *Bench) Key(name string, m Mods) bool {
	arrow := name
	if alias, ok := keyAlias[name]; ok {
		name = alias
	}
	if (b.blank && name != "F9" && name != "Escape") || (b.Message() != nil && name != "F9" && name != "Escape") {
		return false
	}
	if b.hold(name, m) || b.seamKey(arrow) || b.bookKey(arrow) || b.rackKey(arrow, m) || b.tableKey(arrow, m) || b.arrowKey(arrow, m) || b.drillKey(arrow, m) {
		return true
	}
	if alias, ok := stepAlias[name]; ok && !m.Ctrl && !m.Shift && (wholeDisplay[b.screen] || studyScreens[b.screen]) {
		name = alias
	}
	if m.Ctrl {
		name = "Ctrl+" + name
	} else if m.Shift && len(name) > 1 {
		name = "Shift+" + name
	}
	if n, err := strconv.Atoi(name); err == nil && n > 0 && b.screen == PairingScreen {
		return b.UsePreset(n)
	}
	for i := range commandTable {
		c := &commandTable[i]
		if c.key != name || !b.onScreen(c.on) {
			continue
		}
		b.Do(c.id)
		return true
	}
	return false
}

func (b *Bench) onScreen(on []Screen) bool {
	for _, s := range on {
		if s == b.screen {
			return true
		}
	}
	return len(on) == 0
}

// hold notes the keys that count while they are held: W changes the window by dragging, Space is the lens, D the seam, B blinks, A shows
// how the face lay before it was fitted by picture content.
func (b *Bench) hold(name string, m Mods) bool {
	if name == firstKey && !m.Ctrl && b.screen == FaceScreen && b.doc != nil && b.doc.unshone != nil {
		b.held[name] = true
		b.changed(ViewChanged)
		return true
	}
	if m.Ctrl || (name != "W" && name != "Space" && name != "B" && name != "A" && name != "D") || !b.onScreen(onPair) {
		return false
	}
	if !b.held[name] {
		b.held[name] = true
		if name != "W" {
			b.changed(ViewChanged)
		}
	}
	return true
}

// KeyUp takes a key let go.
func (b *Bench) KeyUp(name string) {
	if b.held[name] {
		delete(b.held, name)
		if name != "W" {
			b.changed(ViewChanged)
		}
	}
}
