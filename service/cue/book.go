package cue

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"cel.dev/cel-go/cel"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
)

// Book is a compiled catalog. It is not changed after Load: any number of
// goroutines may ask it at once.
type Book struct {
	pages  []page
	byName map[string]int
}

// page is one entry, compiled.
type page struct {
	entry
	kind     Kind
	forms    []body.Stroke
	grades   []body.Level
	measures []int // places in the catalog of the evidence, most telling first
	met      cel.Program
	past     cel.Program // nil for captures and cautions
}

// Load compiles a catalog and the files that extend it. An extra may add
// entries and replace corrections, keeps and capture advice of the same name;
// cautions stay as they are. The error names the entry and what is unfit.
func Load(base []byte, extras ...[]byte) (*Book, error) {
	env, err := cel.NewEnv(append(variables(), cel.ClearMacros(), cel.ParserRecursionLimit(32))...)
	if err != nil {
		return nil, fmt.Errorf("cue: %w", err)
	}
	b := &Book{byName: map[string]int{}}
	for i, file := range append([][]byte{base}, extras...) {
		entries, err := read(file)
		if err != nil {
			return nil, err
		}
		own := map[string]bool{}
		for _, e := range entries {
			if own[e.Name] {
				return nil, fmt.Errorf("cue %s: stands twice in one file", e.Name)
			}
			own[e.Name] = true
			if err := b.add(env, e, i > 0); err != nil {
				return nil, fmt.Errorf("cue %.64s: %w", e.Name, err)
			}
		}
	}
	return b, b.checkTexts()
}

func (b *Book) add(env *cel.Env, e entry, extra bool) error {
	if err := e.check(); err != nil {
		return err
	}
	p, err := compile(env, e)
	if err != nil {
		return err
	}
	i, replaces := b.byName[e.Name]
	switch {
	case replaces && (b.pages[i].kind == Caution || p.kind == Caution):
		return fmt.Errorf("a caution cannot be replaced")
	case replaces:
		b.pages[i] = p
	case len(b.pages) >= maxEntries:
		return fmt.Errorf("more than %d entries", maxEntries)
	default:
		b.byName[e.Name] = len(b.pages)
		b.pages = append(b.pages, p)
	}
	return nil
}

// checkTexts refuses a book in which two entries say the same words: their
// repetition could not be told from the names.
func (b *Book) checkTexts() error {
	said := map[string]string{}
	for _, p := range b.pages {
		for _, lang := range languages {
			text := strings.ToLower(p.Text[lang])
			if other, ok := said[text]; ok && other != p.Name {
				return fmt.Errorf("cue %s: the same words as %s", p.Name, other)
			}
			said[text] = p.Name
		}
	}
	return nil
}

func compile(env *cel.Env, e entry) (page, error) {
	p := page{entry: e, kind: kindNames[e.Kind], forms: e.strokes(), grades: e.levels()}
	var err error
	if p.met, err = program(env, e.If, cel.BoolType); err != nil {
		return p, fmt.Errorf("condition: %w", err)
	}
	if e.Excess == "" {
		return p, nil
	}
	if p.past, err = program(env, e.Excess, cel.DoubleType); err != nil {
		return p, fmt.Errorf("excess: %w", err)
	}
	return p, p.findEvidence()
}

// findEvidence checks that the evidence names the measures of the expressions.
func (p *page) findEvidence() error {
	used := measuresIn(p.If + " " + p.Excess)
	if len(p.Proof) == 0 && len(used) > 0 {
		return fmt.Errorf("evidence is missing")
	}
	for _, name := range p.Proof {
		i, ok := measure.Index(name)
		if !ok || !slices.Contains(used, name) {
			return fmt.Errorf("evidence %.60q is no measure of the condition", name)
		}
		p.measures = append(p.measures, i)
	}
	return nil
}

// costLimit stops an expression that costs more than any sensible one: the
// base's dearest costs under 60. Our choice.
const costLimit = 2000

func program(env *cel.Env, expr string, want *cel.Type) (cel.Program, error) {
	ast, issues := env.Compile(expr)
	if issues.Err() != nil {
		return nil, issues.Err()
	}
	if !ast.OutputType().IsExactType(want) {
		return nil, fmt.Errorf("gives %s, want %s", ast.OutputType(), want)
	}
	return env.Program(ast, cel.EvalOptions(cel.OptOptimize), cel.CostLimit(costLimit))
}

// holds evaluates the condition; an absent figure or any other error is no.
func (p *page) holds(f *facts) bool {
	v, _, err := p.met.Eval(f)
	if err != nil {
		return false
	}
	met, ok := v.Value().(bool)
	return ok && met
}

// excess evaluates how far past the band the swing is; NaN when it cannot be told.
func (p *page) excess(f *facts) float64 {
	v, _, err := p.past.Eval(f)
	if err != nil {
		return math.NaN()
	}
	x, ok := v.Value().(float64)
	if !ok {
		return math.NaN()
	}
	return x
}

// serves reports whether the entry is for the stroke and the level.
func (p *page) serves(s body.Stroke, l body.Level) bool {
	return (len(p.forms) == 0 || slices.Contains(p.forms, s)) &&
		(len(p.grades) == 0 || l == body.LevelUnknown || slices.Contains(p.grades, l))
}

// Named returns one entry as a cue, whatever its condition; ok is false for a
// name that the book does not hold.
func (b *Book) Named(name, locale string) (Cue, bool) {
	i, ok := b.byName[name]
	if !ok {
		return Cue{}, false
	}
	return b.pages[i].cue(locale, 1, 1), true
}

func (p *page) cue(locale string, priority, confidence float64) Cue {
	lang := language(locale)
	return Cue{Name: p.Name, Kind: p.kind, Text: p.Text[lang], Drill: p.Drill[lang],
		Priority: priority, Confidence: confidence, Evidence: slices.Clone(p.Proof)}
}

// Definitions returns the whole catalog in one language, in its order.
func (b *Book) Definitions(locale string) []Definition {
	lang := language(locale)
	out := make([]Definition, len(b.pages))
	for i, p := range b.pages {
		out[i] = Definition{Name: p.Name, Kind: p.kind, Text: p.Text[lang], Drill: p.Drill[lang],
			Strokes: slices.Clone(p.forms), Levels: slices.Clone(p.grades), Condition: p.If, Source: p.Source}
	}
	return out
}

// language returns the nearest language that the book speaks: the primary
// subtag of a BCP 47 locale ("de-AT" is de), English for all others.
func language(locale string) string {
	primary, _, _ := strings.Cut(strings.ToLower(strings.ReplaceAll(locale, "_", "-")), "-")
	if slices.Contains(languages, primary) {
		return primary
	}
	return languages[0]
}
