package feed

import "example.com/courtkin/service/cue"

// Advise answers one request of a ball machine.
func Advise(book *cue.Book, r Request) Advice { return Advice{Action: Hold} }
