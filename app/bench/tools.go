package bench

import (
	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// drawRoom is what is in hand on the face: the tool, drafts not yet part of the plate, and what is chosen.
type drawRoom struct {
	tool    Tool
	view    section.View
	grid    bool
	marks   bool // of the picture check are shown
	manner  Manner
	into    Into // what becomes of the next outline
	apart   bool // a new outline leaves out what its neighbours cover
	joining bool // the next outline chosen becomes one with the chosen one

	chosen  string   // id of a label
	point   pointRef // of the chosen label
	hovered string   // id of the label under the pointer

	outline  []geom.Px         // being drawn
	stroking bool              // freehand, the button is down
	knots    []int             // where in outline the clicks are, while an edge is followed
	live     []geom.Px         // the edge from the last click to the hand
	home     []geom.Px         // the edge from the last click to the first
	closing  bool              // waits for the ways still being found
	pending  int               // ways being found
	looking  int               // draft + 1 while the edge to the hand is being found
	ahead    *geom.Px          // where the hand went meanwhile
	draft    int               // counts outlines begun, so that what was found for an older one is dropped
	fill     *filling          // a fill that waits to be kept
	alike    float64           // how unlike filled tissue may be, as last used
	filling  bool              // being found
	cursor   *geom.Px          // the keyboard's cross
	fresh    bool              // it was moved since Enter
	loose    *annotate.Polygon // the shape under the pointer while it cannot stand
	crossing *geom.Px          // where the last refused outline meets itself

	scale       ScaleDraft
	colour      ColourDraft
	uncorrected bool // colours are shown as photographed
	measure     measureDraft
	language    NameLanguage // of names on the picture
	box         []geom.Px    // two corners of a tag mask being drawn

	signer   string      // who signs as the second person
	compared *comparison // of both readings, while it is looked at

	hint string
	warn bool
}

// pointRef names one point of a label.
type pointRef struct{ region, ring, i int }

var noPoint = pointRef{-1, -1, -1}

// drawing reports whether something is half drawn; inHand, whether anything is drawn that is not part of the face.
func (d *drawRoom) drawing() bool {
	return len(d.outline) > 0 || len(d.box) > 0 || len(d.scale.Points) > 0
}

func (d *drawRoom) inHand() bool { return d.drawing() || len(d.measure.at) > 0 }

// dropDrafts forgets everything half drawn.
func (b *Bench) dropDrafts() {
	d := &b.draw
	b.dropOutline()
	d.measure.drop()
	d.loose, d.crossing, d.box, d.cursor, d.joining = nil, nil, nil, nil, false
	d.scale.Points, d.scale.Ruler, d.scale.Sheet = nil, nil, nil
	d.colour = ColourDraft{Mode: d.colour.Mode, Edition: d.colour.Edition}
	b.checkScale()
	b.pair.half = halfTie{}
	b.hint("", false)
}

// hint says in one line what to do next or why something was refused.
func (b *Bench) hint(words string, warn bool) {
	if b.draw.hint != words || b.draw.warn != warn {
		b.draw.hint, b.draw.warn = words, warn
		b.changed(SelectionChanged)
	}
}

// Hint is one line for the person at work: what was refused and why (warn), or what to do next with the tool in hand.
func (b *Bench) Hint() (words string, warn bool) {
	switch {
	case b.draw.hint != "":
		return b.draw.hint, b.draw.warn
	case b.screen == PairingScreen:
		return b.pairHint(), false
	case b.screen != FaceScreen || b.doc == nil:
		return "", false
	}
	if b.draw.joining {
		return Word("hint.join"), false
	}
	switch b.draw.tool {
	case ToolScale:
		return b.draw.scale.Needs, false
	case ToolColour:
		return b.colourHint(), false
	case ToolAxes:
		if p, proposed := b.ProposedUp(); proposed {
			return p.Words, false
		}
		return Word("hint.axes"), false
	case ToolBorder:
		return b.borderHint(), false
	case ToolOutline:
		return b.outlineHint(), false
	case ToolName:
		if b.draw.chosen == "" {
			return Word("hint.name.choose"), false
		}
		return Word("hint.name"), false
	case ToolMeasure:
		return measureHint(b.draw.measure.kind), false
	}
	if m, proposed := b.ProposedMask(); proposed {
		return m.Words, false
	}
	if b.draw.tool == ToolMask {
		return Word("hint.mask"), false
	}
	return Word("hint.pan"), false
}

// Tool is the tool in hand.
func (b *Bench) Tool() Tool { return b.draw.tool }

// SetTool takes another tool, or says why it cannot be used.
func (b *Bench) SetTool(t Tool) {
	if len(b.draw.outline) > 0 {
		if t != b.draw.tool {
			b.hint(Word("outline.open"), true)
		}
		return
	}
	if t != ToolPan {
		var why error
		switch t {
		case ToolOutline, ToolName:
			why = b.nameable()
		default:
			if b.doc == nil {
				why = ErrNoPhoto
			}
		}
		if why == nil && t != ToolMeasure {
			why = b.writable()
		}
		if why != nil {
			b.Report(why)
			return
		}
	}
	b.dropDrafts()
	b.draw.tool = t
	if t == ToolScale {
		b.checkScale()
		b.wantRuler()
	}
	if t == ToolBorder {
		b.doc.edge.point = noPoint
		b.wantBorder()
	}
	if t == ToolMeasure {
		if _, ok := b.hasScale(); !ok {
			b.hint(Word("measure.noscale"), true)
		}
	}
	b.changed(SelectionChanged)
}

// SetGrid shows or hides the 10 mm grid.
func (b *Bench) SetGrid(on bool) {
	if _, ok := b.hasScale(); on && !ok && b.doc != nil {
		b.hint(Word("grid.noscale"), true)
	}
	b.draw.grid = on
	b.changed(ViewChanged)
}

// Grid reports whether the 10 mm grid is shown.
func (b *Bench) Grid() bool { return b.draw.grid }
