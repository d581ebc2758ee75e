package wire

import (
	"fmt"
	"strings"
)

// Problem is one unfit field: its path as in the request ("frames[12].image")
// and what is wrong with it.
type Problem struct{ Field, Description string }

// Error returns path and description.
func (p Problem) Error() string { return p.Field + ": " + p.Description }

// Problems are all unfit fields that were found in a message.
type Problems []Problem

// Error joins the problems.
func (ps Problems) Error() string {
	all := make([]string, len(ps))
	for i, p := range ps {
		all[i] = p.Error()
	}
	return strings.Join(all, "; ")
}

// orNil returns the problems as an error, nil when there are none.
func (ps Problems) orNil() error {
	if len(ps) == 0 {
		return nil
	}
	return ps
}

func (ps *Problems) add(field, format string, args ...any) {
	*ps = append(*ps, Problem{field, fmt.Sprintf(format, args...)})
}

// check adds a problem unless ok.
func (ps *Problems) check(ok bool, field, format string, args ...any) {
	if !ok {
		ps.add(field, format, args...)
	}
}

// LimitError says which stated limit a client passed.
type LimitError struct {
	Limit string // lower_snake, as in Limits
	Most  int64
	Unit  string
}

// Error names the limit and its value.
func (e *LimitError) Error() string {
	return fmt.Sprintf("limit %s: at most %d %s", e.Limit, e.Most, e.Unit)
}
