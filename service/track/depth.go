package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// One camera shows a rod of known length foreshortened: its tilt toward or
// away from the camera follows up to a sign (Taylor 2000, CVIU 80:349–363).
// Which sign holds in which frame is decided for the whole window at once: a
// racket turns without jolts.

// axisChoice is the two directions a rod may have in one frame.
type axisChoice struct {
	t float64
	u [2]geom.Vec3 // [0] tilts toward the camera, [1] away
	// flat is how nearly the rod lies across the line of sight: the sine of
	// the angle between the two choices' halves; 0 where they are one.
	flat float64
}

// nearer is the choice nearer to a direction.
func (c *axisChoice) nearer(u geom.Vec3) int {
	if c.u[1].Dot(u) > c.u[0].Dot(u) {
		return 1
	}
	return 0
}

// choices lists, frame by frame, the directions of the axis that put the tip
// (or the throat) where the image shows it, given the grip's course.
func (m *scene) choices(grip func(t float64) geom.Vec3) (out []axisChoice) {
	butt := pixelsByTime(m.sights[body.RacketButt])
	throat := pixelsByTime(m.sights[body.RacketThroat])
	tips := m.sights[body.RacketTip]
	for i := range tips {
		s := &tips[i]
		if s.kind != image {
			continue
		}
		g := grip(s.t)
		if b, ok := butt[s.t]; ok {
			g = onRay(s, lerpPixel(b, s.p, gripFromButt/m.length), g)
		} else if th, ok := throat[s.t]; ok {
			f := (gripFromButt - m.throat) / (m.length - m.throat)
			g = onRay(s, lerpPixel(th, s.p, f), g)
		}
		out = append(out, tilt(s, g, m.along(body.RacketTip)))
	}
	return out
}

func pixelsByTime(s []sight) map[float64]geom.Vec3 {
	out := make(map[float64]geom.Vec3, len(s))
	for i := range s {
		if s[i].kind == image {
			out[s[i].t] = s[i].p
		}
	}
	return out
}

func lerpPixel(a, b geom.Vec3, f float64) geom.Vec3 { return a.Lerp(b, f) }

// onRay moves g across the line of sight onto the ray of a pixel, keeping its
// distance along the camera's axis.
func onRay(s *sight, px, g geom.Vec3) geom.Vec3 {
	o, d := s.eye.Ray(px.X, px.Y)
	f := s.eye.Forward()
	k := g.Sub(o).Dot(f) / d.Dot(f)
	return o.Add(d.Scale(k))
}

// tilt returns the two directions of a rod of length l from g whose far end
// lies on the sight's ray; where the ray passes further off than l, both are
// the direction to its nearest point.
func tilt(s *sight, g geom.Vec3, l float64) axisChoice {
	o, d := s.eye.Ray(s.p.X, s.p.Y)
	d = d.Unit()
	w := o.Sub(g)
	b := w.Dot(d)
	near := w.Sub(d.Scale(b)) // from g to the ray's nearest point
	c := axisChoice{t: s.t}
	h2 := l*l - near.Dot(near)
	if h2 <= 0 {
		c.u[0] = near.Unit()
		c.u[1] = c.u[0]
		return c
	}
	h := math.Sqrt(h2)
	c.u[0] = near.Sub(d.Scale(h)).Unit()
	c.u[1] = near.Add(d.Scale(h)).Unit()
	c.flat = h / l
	return c
}

// Weights of the sign search. A racket's axis turns at up to about 45 rad/s
// and changes that by some 400 rad/s² in a swing (published and recorded
// strokes: literature.md G12, G19 divided by a racket's length).
const (
	turnChange = 500.0 // rad/s², sd of the change of turn rate, per √(s)·s scale below
	turnNoise  = 0.06  // rad, sd of one direction's error across the view
)

// bestSigns chooses a direction for each frame so that the sequence turns most
// evenly: dynamic programming over pairs of neighbours (Viterbi), cost the
// squared second difference of the axis over its expected size. bias, when not
// nil, adds a cost for a choice.
func bestSigns(cs []axisChoice, bias func(i, k int) float64) (pick []int, cost float64) {
	n := len(cs)
	if n == 0 {
		return nil, 0
	}
	pick = make([]int, n)
	if n < 3 {
		return pick, 0
	}
	at := func(i, k int) float64 {
		if bias == nil {
			return 0
		}
		return bias(i, k)
	}
	var best [2][2]float64 // best[j][k]: cost ending with choice j at i−1 and k at i
	from := make([][2][2]int, n)
	for j := range 2 {
		for k := range 2 {
			best[j][k] = at(0, j) + at(1, k) + 0.1*stepCost(&cs[0], &cs[1], j, k)
		}
	}
	for i := 2; i < n; i++ {
		var next [2][2]float64
		for k := range 2 {
			for l := range 2 {
				next[k][l] = math.Inf(1)
				for j := range 2 {
					c := best[j][k] + bendCost(&cs[i-2], &cs[i-1], &cs[i], j, k, l)
					if c < next[k][l] {
						next[k][l], from[i][k][l] = c, j
					}
				}
				next[k][l] += at(i, l)
			}
		}
		best = next
	}
	k, l := 0, 0
	cost = math.Inf(1)
	for a := range 2 {
		for b := range 2 {
			if best[a][b] < cost {
				cost, k, l = best[a][b], a, b
			}
		}
	}
	pick[n-1], pick[n-2] = l, k
	for i := n - 1; i >= 2; i-- {
		pick[i-2] = from[i][pick[i-1]][pick[i]]
	}
	return pick, cost
}

// stepCost prefers slow turning where nothing else is known.
func stepCost(a, b *axisChoice, j, k int) float64 {
	dt := b.t - a.t
	r := b.u[k].Sub(a.u[j]).Norm() / (20*dt + turnNoise)
	return r * r
}

// bendCost is the cost of a change of turning over three frames.
func bendCost(a, b, c *axisChoice, j, k, l int) float64 {
	h1, h2 := b.t-a.t, c.t-b.t
	if h1 > 0.15 || h2 > 0.15 {
		return 0
	}
	v1 := geom.Between(a.u[j], b.u[k])
	// Predict c by turning on along the great circle through a and b.
	turn := geom.RotationAbout(a.u[j].Cross(b.u[k]).Unit(), geom.Angle(float64(v1)*h2/h1))
	p := turn.Apply(b.u[k])
	size := turnChange*h2*(h1+h2)/2 + turnNoise*(1+h2/h1)
	r := float64(geom.Between(p, c.u[l])) / size
	return math.Min(r*r, 30)
}
