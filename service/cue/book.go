package cue

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
)

// Book is a compiled catalog. It is not changed after Load: any number of
// goroutines may ask it at once.
type Book struct{}

// Base returns the catalog that comes with the service.
func Base() []byte { return nil }

// Load compiles a catalog and the files that extend it.
func Load(base []byte, extras ...[]byte) (*Book, error) { return &Book{}, nil }

// Select chooses what to say after one swing.
func (b *Book) Select(s *measure.Sheet, h History) []Cue { return nil }

// Due returns every correction that one swing calls for, weightiest first.
func (b *Book) Due(s *measure.Sheet, p body.Player, locale string) []Cue { return nil }

// CaptureAdvice returns every capture advice that the sheet calls for.
func (b *Book) CaptureAdvice(s *measure.Sheet, locale string) []Cue { return nil }

// Named returns one entry as a cue.
func (b *Book) Named(name, locale string) (Cue, bool) { return Cue{}, false }

// Definitions returns the whole catalog in one language.
func (b *Book) Definitions(locale string) []Definition { return nil }
