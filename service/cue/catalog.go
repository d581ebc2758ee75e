package cue

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"

	"example.com/courtkin/service/body"
)

//go:embed catalog/corrections.json
var corrections []byte

//go:embed catalog/keeps.json
var keeps []byte

//go:embed catalog/capture.json
var capture []byte

//go:embed catalog/cautions.json
var cautions []byte

// Base returns the catalog that comes with the service: JSON lists of entries,
// one after the other. A club's own file has the same form.
func Base() []byte { return bytes.Join([][]byte{corrections, keeps, capture, cautions}, nil) }

// entry is one cue of the catalog as the files hold it.
type entry struct {
	Name    string            `json:"name"`    // lower_snake, unique
	Kind    string            `json:"kind"`    // correct, keep, capture, caution
	Strokes []string          `json:"strokes"` // empty: every stroke
	Levels  []string          `json:"levels"`  // empty: every level; a player of unknown level counts as every one
	Link    string            `json:"link"`    // place in the chain of causes: see chain; corrections and keeps only
	If      string            `json:"condition"`
	Excess  string            `json:"excess"` // CEL: how far past the band, in steps that a coach would notice; 0 at its edge
	Proof   []string          `json:"evidence"`
	Text    map[string]string `json:"text"`  // by language
	Drill   map[string]string `json:"drill"` // by language
	Source  string            `json:"source"`
}

// chain is the order of causes in a stroke, earliest first: feet and turn
// before arm before racket. Common practice, no source.
var chain = []string{"ready", "turn", "take_back", "toss", "legs", "trunk", "spacing", "arm", "racket", "contact", "finish"}

var kindNames = map[string]Kind{"correct": Correct, "keep": Keep, "capture": Capture, "caution": Caution}

var strokeNames = map[string]body.Stroke{
	"forehand": body.Forehand, "two_handed_backhand": body.TwoHandedBackhand, "one_handed_backhand": body.OneHandedBackhand,
	"slice_backhand": body.SliceBackhand, "serve": body.Serve, "forehand_volley": body.ForehandVolley,
	"backhand_volley": body.BackhandVolley, "overhead": body.Overhead,
}

var levelNames = map[string]body.Level{
	"beginner": body.Beginner, "intermediate": body.Intermediate, "advanced": body.Advanced, "elite": body.Elite,
}

// languages that every entry must speak, the first being the fallback.
var languages = []string{"en", "de"}

// Limits on a club's own file, generous against the base's hundred entries.
const (
	maxFile    = 1 << 20 // bytes
	maxEntries = 1000    // in the whole book
	maxExpr    = 1000    // bytes of one CEL expression
	maxText    = 400     // bytes of one text
)

// read decodes the entries of one file: JSON lists one after the other.
func read(file []byte) ([]entry, error) {
	if len(file) > maxFile {
		return nil, fmt.Errorf("catalog of %d bytes is larger than %d", len(file), maxFile)
	}
	var all []entry
	dec := json.NewDecoder(bytes.NewReader(file))
	dec.DisallowUnknownFields()
	for {
		var list []entry
		if err := dec.Decode(&list); errors.Is(err, io.EOF) {
			return all, nil
		} else if err != nil {
			return nil, fmt.Errorf("catalog: %w", err)
		}
		if all = append(all, list...); len(all) > maxEntries {
			return nil, fmt.Errorf("catalog holds more than %d entries", maxEntries)
		}
	}
}

var nameForm = regexp.MustCompile(`^[a-z][a-z0-9_]{0,63}$`)

// check tells the first thing that is unfit about an entry, its CEL aside.
func (e *entry) check() error {
	if !nameForm.MatchString(e.Name) {
		return fmt.Errorf("name %.64q must be lower_snake", e.Name)
	}
	kind, ok := kindNames[e.Kind]
	if !ok {
		return fmt.Errorf("kind %.20q is none of correct, keep, capture, caution", e.Kind)
	}
	if e.Source == "" {
		return errors.New("a source is missing (\"common practice, no source\" is one)")
	}
	if figured := kind == Correct || kind == Keep; figured != (e.Excess != "") || figured != (e.Link != "") {
		return errors.New("excess and link belong to corrections and keeps, and to no other kind")
	}
	if e.Link != "" && !slices.Contains(chain, e.Link) {
		return fmt.Errorf("link %.20q is not in the chain", e.Link)
	}
	return errors.Join(known("stroke", e.Strokes, strokeNames), known("level", e.Levels, levelNames), e.checkTexts())
}

func known[T any](what string, names []string, in map[string]T) error {
	for _, n := range names {
		if _, ok := in[n]; !ok {
			return fmt.Errorf("%s %.30q is unknown", what, n)
		}
	}
	return nil
}

func (e *entry) checkTexts() error {
	for _, lang := range languages {
		for what, text := range map[string]string{"text": e.Text[lang], "drill": e.Drill[lang]} {
			if text == "" || len(text) > maxText {
				return fmt.Errorf("%s in %q must have 1 to %d bytes", what, lang, maxText)
			}
		}
	}
	if len(e.If) > maxExpr || len(e.Excess) > maxExpr {
		return fmt.Errorf("an expression is longer than %d bytes", maxExpr)
	}
	return nil
}

// place returns how early in the chain the entry stands, in [0, 1]: 1 is the
// first link.
func (e *entry) place() float64 {
	i := slices.Index(chain, e.Link)
	if i < 0 {
		return 1
	}
	return 1 - float64(i)/float64(len(chain)-1)
}

// strokes returns the strokes of the entry in wire order; nil for all.
func (e *entry) strokes() []body.Stroke { return valuesOf(e.Strokes, strokeNames) }

func (e *entry) levels() []body.Level { return valuesOf(e.Levels, levelNames) }

func valuesOf[T ~uint8](names []string, in map[string]T) []T {
	var out []T
	for _, n := range names {
		out = append(out, in[n])
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// saturate maps a size in [0, ∞) to [0, 1): half at 1.
func saturate(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	return 1 - 1/(1+math.Min(x, 1e9))
}
