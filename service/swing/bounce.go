package swing

import (
	"cmp"
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/track"
)

// A bounce turns a falling ball upwards within milliseconds; gravity, drag, spin and
// the camera's place bend its way slowly and, seen from the side or from behind, never
// upwards at once.
const (
	bounceArm    = 0.10 // s each side of it over which the ball's climb is read: six frames at 60 Hz
	bounceTurn   = 2.5  // m/s, least change of climb; a ball that falls from 0.5 m rises again at 2.3 after 3.1
	bounceFall   = -0.5 // m/s, greatest climb before it: it falls
	bounceLast   = 0.03 // s before contact: the blow turns the ball, too
	bounceHeight = 0.35 // m over the lowest ankle where heights are known
	bounceSeen   = 0.6  // s: a ball that is hit after its bounce mostly bounced within this time
	bounceSaid   = -6.0 // log-odds of a volley once a bounce was seen: none by its definition
	bounceNever  = 1.5  // the same where the ball was seen for bounceSeen without one
)

// ballAt is the height of a ball in one frame, metres upwards by the body's size.
type ballAt struct{ t, y float64 }

// unbounced returns the log-odds that the ball came without touching the ground, from
// its height in one camera's frames before contact (seconds from the window's start):
// 0 where it was not seen for long enough to tell.
func unbounced(window []body.Frame, w *track.Window, camera uint8, contact float64) float64 {
	path, known := ballHeights(window, w, camera, contact)
	if len(path) < 8 {
		return 0
	}
	for i := range path {
		if known && path[i].y > bounceHeight {
			continue
		}
		before, ok := climb(path, path[i].t-bounceArm, path[i].t)
		after, ok2 := climb(path, path[i].t, path[i].t+bounceArm)
		if ok && ok2 && before < bounceFall && after-before > bounceTurn {
			return bounceSaid
		}
	}
	if contact-path[0].t > bounceSeen {
		return bounceNever
	}
	return 0
}

// ballHeights returns the ball's heights before contact; known: over the lowest ankle,
// else from where the image's rows are counted.
func ballHeights(window []body.Frame, w *track.Window, camera uint8, contact float64) (path []ballAt, known bool) {
	world := ballInWorld(window, camera)
	var size sizes
	var low []float64
	for t, at := range framesFrom(window, w, camera, contact, world) {
		size.add(at)
		up := at.up()
		for _, p := range [...]body.Point{body.LeftAnkle, body.RightAnkle} {
			if x, ok := at.point(p); world && ok {
				low = append(low, x.Y*up)
			}
		}
		if x, ok := at.point(body.Ball); ok && t < -bounceLast && t > -1.5 {
			path = append(path, ballAt{t + contact, x.Y * up})
		}
	}
	tall := size.tall()
	if tall == 0 || world && len(low) < 3 {
		return nil, false
	}
	scale, ground := bodyLength/tall, 0.0
	if world {
		slices.Sort(low)
		ground = low[len(low)/20]
	}
	for i := range path {
		path[i].y = (path[i].y - ground) * scale
	}
	return path, world
}

// up is the sign of heights: rows of an image count downwards.
func (r frameReader) up() float64 {
	if r.world {
		return 1
	}
	return -1
}

// climb returns how fast the ball rises from one time to another, m/s: the median over
// pairs half the stretch apart, which an outlier does not move. ok is false for fewer
// than four sights.
func climb(path []ballAt, from, to float64) (v float64, ok bool) {
	i, _ := slices.BinarySearchFunc(path, from-1e-9, func(b ballAt, t float64) int { return cmp.Compare(b.t, t) })
	j := i
	for j < len(path) && path[j].t <= to+1e-9 {
		j++
	}
	n := j - i
	if n < 4 {
		return math.NaN(), false
	}
	h := n / 2
	var rates [64]float64
	k := 0
	for ; k < n-h && k < len(rates); k++ {
		a, b := path[i+k], path[i+k+h]
		rates[k] = (b.y - a.y) / (b.t - a.t)
	}
	slices.Sort(rates[:k])
	return (rates[(k-1)/2] + rates[k/2]) / 2, true
}
