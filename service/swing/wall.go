package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

// An estimator that gives one person may go over to another who walks by. Between
// two frames the whole body is then somewhere else; a fit across them would see
// hands and racket at the speed of a smash. So such a place is a wall: nothing is
// fitted across it, and no swing reaches over it.
const (
	// wallSpeed is how fast a body moves at most, m/s: a sprint across the court is 7.
	wallSpeed = 8.0
	// wallFar is what noise may add between two frames, metres: three times a phone's
	// depth noise (45 mm) on both, and half a shoulder's width for a point mistaken.
	wallFar = 0.25
)

// wallPairs are the pairs of points whose middles are compared: left and right taken
// for one another move no middle.
var wallPairs = [...]body.Point{body.LeftShoulder, body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftElbow}

// parts reports whether two frames in a row show two people: most of the body's
// middles are further apart than a body moves. In an image a metre is what the body's
// own length says.
func (s *rows) parts(a, b uint32) bool {
	most := wallFar + wallSpeed*float64(s.times[b]-s.times[a])*1e-6
	if s.leaps(a, b, inWorld, most) {
		return true
	}
	l := max(s.tallOf(a).apparent(), s.tallOf(b).apparent()) // pixels
	return l > 0 && s.leaps(a, b, inImage, most*float64(l)/bodyLength)
}

// leaps reports whether most of the middles that both frames show, of three at least,
// lie further apart than most.
func (s *rows) leaps(a, b uint32, world bool, most float64) bool {
	far, seen := 0, 0
	for i, p := range wallPairs {
		if left := len(wallPairs) - i; 2*(far+left) <= seen+left { // whatever is still to come
			return false
		}
		l, ok := s.vec(a, p, world)
		r, ok2 := s.vec(a, p.Twin(), world)
		l2, ok3 := s.vec(b, p, world)
		r2, ok4 := s.vec(b, p.Twin(), world)
		if !ok || !ok2 || !ok3 || !ok4 {
			continue
		}
		seen++
		if l2.Add(r2).Sub(l).Sub(r).Norm()/2 > most {
			far++
		}
	}
	return seen >= 3 && 2*far > seen
}

// wall reports whether the frame at a place shows somebody else than the one before it.
func (r *ring) wall(place uint64) bool { return r.walls[r.slot(place)] }

// same returns the first of the places from from to place that show one person.
func (r *ring) same(from, place uint64) uint64 {
	for place > from && !r.wall(place) {
		place--
	}
	return place
}

// wallNear is how near a contact a wall may lie and cut no window off, s: a flicker
// within the swing is left to the settled depth, which stands up to outliers.
const wallNear = 0.35

// person returns the stretch of time about a contact in which a camera shows the
// same person, microseconds, its bounds at least near from the contact.
func (m *machine) person(r *ring, contactUS int64, near float64) (from, to int64) {
	from, to = math.MinInt64, math.MaxInt64
	if r.empty() {
		return from, to
	}
	n := m.det.view.us(near)
	for k := min(r.since(contactUS-n), r.next-1); k > r.first; k-- {
		if r.wall(k) {
			from = r.time(k)
			break
		}
	}
	for k := max(r.since(contactUS+n), r.first+1); k < r.next; k++ {
		if r.wall(k) {
			to = r.time(k - 1)
			break
		}
	}
	return from, to
}

// Two people who pass one another at the same place of an image are too near for a
// wall; an estimator that goes to and fro between them makes the middles of most limbs
// leap by more than a body moves, several times within moments.
const (
	flickFor   = 0.20 // s before and after
	flickSpeed = 4.0  // m/s: hips and shoulders of a lunge or a leap; knees and elbows of one side alone are faster
	flickFar   = 0.10 // m: four sds of 2 px at 80 px a metre
	flicks     = 2    // leaps, at least, there and back counted once where one frame alone is odd: an outlier of some limbs or the whole body
)

// flickers reports whether an image shows now one person, now another about an instant.
func (v *view) flickers(us int64) bool {
	r, n := v.ring, 0
	first, end := max(r.since(us-v.us(flickFor)), v.low, r.first), r.since(us+v.us(flickFor))
	for k := first + 1; k < end; k++ {
		if !v.flicks(k-1, k) {
			continue
		}
		n++
		if k+1 < end && !v.flicks(k-1, k+1) {
			k++ // one odd frame: the leap back is no other
		}
	}
	return n >= flicks
}

// flicks reports whether most middles leap from one frame to another after it.
func (v *view) flicks(from, to uint64) bool {
	r := v.ring
	a, b := r.row(from), r.row(to)
	l := max(r.tallOf(a).apparent(), r.tallOf(b).apparent())
	most := flickFar + flickSpeed*v.seconds(r.times[a], r.times[b])
	return l > 0 && r.leaps(a, b, inImage, most*float64(l)/bodyLength)
}
