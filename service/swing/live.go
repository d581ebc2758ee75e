package swing

import "example.com/courtkin/service/measure"

type live struct{ trace *tracer }

func (l *live) restart(*view)                {}
func (l *live) step(r *ring, to Sink)        {}
func (l *live) finish(to Sink)               {}
func (l *live) found(int64)                  {}
func (l *live) refused(to Sink)              {}
func (l *live) settled(*measure.Sheet, Sink) {}
