package practice

import "example.com/courtkin/service/cue"

// Summarize looks over a practice.
func Summarize(book *cue.Book, r Request) Summary { return Summary{} }
