package track

import (
	"sync"

	"example.com/courtkin/service/body"
)

// room is memory in which one solve works after another: a swing needs megabytes for a few
// milliseconds, which would cost a tenth of them to clear, to hand out and to find again.
// Nothing that a solve reads is left of the one before.
type room struct {
	sights  [body.NumPoints][]sight
	paths   []*path
	used    int // how many of the paths are in use
	numbers []float64
	near    []*sight
	own     arena[sight]   // lists of sights
	errs    arena[float64] // their errors
	follow  breakRoom
	bands   []*band
	banded  int // how many of the bands are in use
	lists   [][]rodSight
	listed  int // how many of the lists are in use
	merging []rodSight
	sorting []sight
	byEye   [2][]*sight
	lift    liftRoom
	course  Course // of a draw
	mean    Course
}

var rooms = sync.Pool{New: func() any { return &room{} }}

// path returns a path that is not laid yet; a new one without a room.
func (r *room) path() *path {
	if r == nil {
		return &path{}
	}
	if r.used == len(r.paths) {
		r.paths = append(r.paths, &path{})
	}
	r.used++
	return r.paths[r.used-1]
}

// arena hands out zeroed lists that last as long as a solve.
type arena[T any] struct {
	blocks   [][]T
	at, used int // the block that is handed out, and how much of it
}

// take returns n zeros; of blocks of least or more.
func (a *arena[T]) take(n, least int) []T {
	for ; a.at < len(a.blocks); a.at, a.used = a.at+1, 0 {
		if b := a.blocks[a.at]; len(b)-a.used >= n {
			a.used += n
			return b[a.used-n : a.used : a.used]
		}
	}
	a.blocks = append(a.blocks, make([]T, max(n, least)))
	a.used = n
	return a.blocks[a.at][:n:n]
}

// empty takes all lists back.
func (a *arena[T]) empty() {
	for i := range min(a.at, len(a.blocks)) {
		clear(a.blocks[i])
	}
	if a.at < len(a.blocks) {
		clear(a.blocks[a.at][:a.used])
	}
	a.at, a.used = 0, 0
}

// sightList returns an empty list with room for n sights; a new one without a room.
func (r *room) sightList(n int) []sight {
	if r == nil {
		return make([]sight, 0, n)
	}
	return r.own.take(n, 2048)[:0]
}

// zeros returns n zeros; new ones without a room.
func (r *room) zeros(n int) []float64 {
	if r == nil {
		return make([]float64, n)
	}
	return r.errs.take(n, 16384)
}

// band returns a matrix of whatever content; a new one without a room.
func (r *room) band() *band {
	if r == nil {
		return &band{}
	}
	if r.banded == len(r.bands) {
		r.bands = append(r.bands, &band{})
	}
	r.banded++
	return r.bands[r.banded-1]
}

// rodSights returns an empty list with room for n sights of a rod; a new one without a room.
func (r *room) rodSights(n int) []rodSight {
	if r == nil {
		return make([]rodSight, 0, n)
	}
	if r.listed == len(r.lists) {
		r.lists = append(r.lists, nil)
	}
	l := &r.lists[r.listed]
	r.listed++
	if cap(*l) < n {
		*l = make([]rodSight, 0, n+n/8)
	}
	return (*l)[:0]
}

// giveBack takes the path back that was handed out last, or was nearly: what it held is lost.
func (r *room) giveBack(p *path) {
	if r == nil {
		return
	}
	p.letGo()
	for i := r.used - 1; i >= 0; i-- {
		if r.paths[i] == p {
			r.used--
			r.paths[i], r.paths[r.used] = r.paths[r.used], p
			return
		}
	}
}

// sightsOf returns room for n sights of a point.
func (r *room) sightsOf(p, n int) []sight {
	if cap(r.sights[p]) < n {
		r.sights[p] = make([]sight, 0, n)
	}
	return r.sights[p][:0]
}

// empty lets go of what belongs to the solve that ends.
func (r *room) empty() {
	for p := range r.sights {
		clear(r.sights[p][:cap(r.sights[p])])
	}
	clear(r.near[:cap(r.near)])
	for _, p := range r.paths[:r.used] {
		p.letGo()
	}
	r.own.empty()
	r.errs.empty()
	r.follow.own.empty()
	for _, l := range r.lists[:r.listed] {
		clear(l[:cap(l)])
	}
	clear(r.merging[:cap(r.merging)])
	clear(r.sorting[:cap(r.sorting)])
	for _, s := range r.byEye {
		clear(s[:cap(s)])
	}
	r.used, r.banded, r.listed = 0, 0, 0
	r.course.T, r.mean.T = nil, nil
}

// letGo drops what belongs to a solve.
func (p *path) letGo() {
	p.g, p.sights, p.apart, p.shakeApart, p.shakeWide = nil, nil, nil, nil, nil
	clear(p.apartRoom.eyes[:cap(p.apartRoom.eyes)])
	clear(p.shakeRoom.lifts[:cap(p.shakeRoom.lifts)])
	clear(p.shakeRoom.strands[:cap(p.shakeRoom.strands)])
}

// Release gives the memory back in which the posterior was found and is drawn from; it, its
// mean and its draws are not to be used any more. It need not be called.
func (p *Posterior) Release() {
	m := p.scenes[0]
	p.scenes, p.mean = nil, nil
	m.room.empty()
	rooms.Put(m.room)
}

// Drawn is Draw in memory that the next call writes over.
func (p *Posterior) Drawn(k int) *Course {
	c := &p.scenes[0].room.course
	p.DrawInto(c, k)
	return c
}
