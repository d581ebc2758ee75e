package cue

import (
	"example.com/courtkin/service/body"
)

// Kind says what a cue is for. The numbers are those of the wire.
type Kind uint8

// Kinds.
const (
	KindUnknown Kind = iota
	Correct          // one thing to change
	Keep             // one thing that went well
	Capture          // move the phone, more light, faster shutter
	Caution          // load, pain, space around the player
)

// Cue is one thing to say.
type Cue struct {
	Name       string
	Kind       Kind
	Text       string
	Drill      string
	Priority   float64  // 0 to 1
	Confidence float64  // 0 to 1
	Evidence   []string // measure names
}

// History is the practice so far, as the client tells it.
type History struct {
	Player      body.Player
	Locale      string   // BCP 47; empty or unknown: English
	Recent      []string // names of cues already given, oldest first; unknown names are passed over
	SwingsSoFar uint32   // swings before this one
}

// Definition is one catalog entry in one language.
type Definition struct {
	Name      string
	Kind      Kind
	Text      string
	Drill     string
	Strokes   []body.Stroke // empty: every stroke
	Levels    []body.Level  // empty: every level
	Condition string        // CEL over the swing's figures
	Source    string
}
