package track

import (
	"math"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// habits is what is believed of a racket's direction from the body that holds it:
// joints bend only so far, two hands that hold one handle lie on one line, the
// racket passes beside the body and not through it, and waits before the chest.
// One camera's image fits two directions equally; these tell them apart.
// Sizes and spreads come from anatomy and from described strokes, no source; they are
// wide enough that the image decides wherever it can.
type habits struct {
	at    float64 // s, impact
	hand  func(t float64) geom.Vec3
	elbow func(t float64) geom.Vec3   // nil: not seen
	other func(t float64) geom.Vec3   // the fist of the hand that may be free; nil: not seen
	apart func(t float64) float64     // sd of other's depth beside the hand's, metres
	trunk [][]trunkAt                 // every trunkStep seconds from 0 on: how the trunk may stand beside the hand; nil: not seen
	sight func(p geom.Vec3) geom.Vec3 // unit direction in which the camera sees p
	reach float64                     // grip centre → tip, metres
}

// habits reads the followed body; nil without a hand near the racket.
func (m *scene) habits() *habits {
	hand := m.grips()
	if hand == nil {
		return nil
	}
	wrist, _ := m.holdingHand()
	h := &habits{at: m.g.t[m.g.brk], hand: hand, elbow: m.elbowOf(wrist), reach: m.along(body.RacketTip)}
	other := wrist.Twin()
	if m.paths[other] != nil && m.rig != nil {
		h.other = m.fistOf(other)
		h.apart = m.depthApart(wrist, other)
		eye := m.rig.Eyes[0].Center()
		h.sight = func(p geom.Vec3) geom.Vec3 { return p.Sub(eye).Unit() }
	}
	h.trunk = m.trunkDraws(wrist)
	return h
}

// trunkAt is the trunk at an instant: the middles of hips and shoulders, and the
// chest's horizontal normal.
type trunkAt struct{ hips, shoulders, chest geom.Vec3 }

const (
	trunkStep  = 1.0 / 60 // s
	trunkDraws = 6        // of the lift's; one camera may not know which way the chest is turned
)

// trunkDraws lists how the trunk may stand, at every trunkStep: as followed, moved by what
// draws of the lift say that its distances and the hand's err. nil where it was not seen.
func (m *scene) trunkDraws(wrist body.Point) (out [][]trunkAt) {
	var at [4]*path
	var sights [5][]sight
	for k, p := range [5]body.Point{body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip, wrist} {
		if m.paths[p] == nil {
			return nil
		}
		if k < len(at) {
			at[k] = m.paths[p]
		}
		sights[k] = m.lifted(p)
	}
	var next [5]int
	for t := 0.0; t < m.end()+trunkStep; t += trunkStep {
		var errs [5][]float64
		draws := trunkDraws
		for k, s := range sights {
			for next[k]+1 < len(s) && math.Abs(s[next[k]+1].t-t) < math.Abs(s[next[k]].t-t) {
				next[k]++
			}
			if len(s) == 0 {
				draws = 1
				continue
			}
			errs[k] = s[next[k]].errs
		}
		row := make([]trunkAt, draws)
		for d := range row {
			var p [4]geom.Vec3
			for k := range p {
				p[k] = at[k].at(t)
				if draws > 1 {
					member := d * liftDraws / trunkDraws
					p[k] = p[k].Add(sights[k][next[k]].dir.Scale(errs[k][member] - errs[4][member]))
				}
			}
			row[d] = trunkAt{p[2].Lerp(p[3], 0.5), p[0].Lerp(p[1], 0.5), geom.Vec3{Y: 1}.Cross(p[1].Sub(p[0]).Flat()).Unit()}
		}
		out = append(out, row)
	}
	return out
}

// lifted returns the sights of a point that a lift gave, in time order.
func (m *scene) lifted(p body.Point) (out []sight) {
	for i := range m.sights[p] {
		if m.sights[p][i].errs != nil {
			out = append(out, m.sights[p][i])
		}
	}
	return out
}

// depthApart returns the sd of the difference of two points' distances from the camera.
func (m *scene) depthApart(p, q body.Point) func(t float64) float64 {
	const least, unknown = 0.05, 0.08 // m: what fists differ from wrists by; without a lift
	own := m.lifted(p)
	sds := make([]float64, len(own))
	for i := range own {
		b := m.liftErrs(q, own[i].t)
		if b == nil {
			own = nil
			break
		}
		sum := 0.0
		for k, e := range own[i].errs {
			sum += square(e - b[k])
		}
		sds[i] = math.Hypot(least, math.Sqrt(sum/float64(len(b))))
	}
	return func(t float64) float64 {
		if len(own) == 0 {
			return unknown
		}
		i := sort.Search(len(own), func(i int) bool { return own[i].t >= t })
		if i == len(own) || i > 0 && t-own[i-1].t <= own[i].t-t {
			i--
		}
		return sds[i]
	}
}

// habitMemory is how long a posture lasts, seconds: within it, further frames tell
// little new of whether a habit holds.
const habitMemory = 0.1

// weight is the share of an independent statement that a frame step seconds long makes.
func (h *habits) weight(step float64) float64 { return step / (step + habitMemory) }

// cost is how unlikely the direction u is at t: squared residuals, in sds.
func (h *habits) cost(t float64, u geom.Vec3) (cost float64) {
	g := h.hand(t)
	if h.elbow != nil { // seldom folded far back over the forearm
		fold := geom.Between(g.Sub(h.elbow(t)), u).Degrees()
		cost += square((fold - 55) / 40)
	}
	dt := t - h.at
	if dt > -0.12 && dt < 0.004 { // trailing the hand in the forward swing, about square at impact
		const step = 0.012 // s
		v := g.Sub(h.hand(t - step)).Scale(1 / step)
		if v.Norm() > 1.5 {
			lag := geom.Between(u, v).Degrees() - 90
			cost += square((lag + 500*dt) / 35) // 50° at 0.1 s before impact, 0° at it
		}
	}
	if h.trunk != nil {
		cost += h.besideBody(t, g, u)
	}
	if h.other != nil {
		cost += h.held(t, g, u)
	}
	return cost
}

// Where a racket is beside the body.
const (
	chestBack = 0.45 // sd of how far a racket points behind the chest's plane, as the sine of the angle
	bodyClear = 0.20 // m: nearer to the spine's line than this, strings would touch trunk or head
	bodySD    = 0.06 // m
)

// besideBody is the cost of a racket that points behind the chest, or passes through the
// body: −2 log of the mean over the ways in which the trunk may stand.
func (h *habits) besideBody(t float64, g, u geom.Vec3) float64 {
	ways := h.trunk[clampInt(int(t/trunkStep+0.5), 0, len(h.trunk)-1)]
	sum := 0.0
	for i := range ways {
		sum += math.Exp(-0.5 * h.beside(&ways[i], g, u))
	}
	return -2 * math.Log(sum/float64(len(ways))+1e-9)
}

// beside is besideBody for one way.
func (h *habits) beside(w *trunkAt, g, u geom.Vec3) float64 {
	spine := w.shoulders.Sub(w.hips)
	least := bodyClear
	for k := 1; k <= 4; k++ {
		p := g.Add(u.Scale(h.reach * float64(k) / 4)).Sub(w.hips)
		f := clamp(p.Dot(spine)/spine.Dot(spine), 0, 1.3) // up to the head
		least = math.Min(least, p.Sub(spine.Scale(f)).Norm())
	}
	return square(math.Max(0, -u.Dot(w.chest))/chestBack) + square((bodyClear-least)/bodySD)
}

func clampInt(v, lo, hi int) int { return max(lo, min(hi, v)) }

// A second hand that the image shows on the racket: on the handle or at the throat.
const (
	heldShare  = 0.3  // chance that it holds it, before looking
	heldAcross = 0.05 // m, sd of a fist's middle beside the axis
	freeAcross = 0.40 // m, sd of a free hand's place about the racket
)

// held is the cost that the other hand's place gives a direction: where the image
// shows it on the racket, its depth should be the racket's there. −2 log of a mixture.
func (h *habits) held(t float64, g, u geom.Vec3) float64 {
	o := h.other(t).Sub(g)
	d := h.sight(g)
	flat := u.Sub(d.Scale(u.Dot(d)))
	seen := o.Sub(d.Scale(o.Dot(d)))
	var along float64
	if n := flat.Dot(flat); n > 0.01 {
		along = clamp(seen.Dot(flat)/n, -0.06, 0.5*h.reach)
	} else {
		along = clamp(o.Dot(u), -0.06, 0.5*h.reach)
	}
	across := seen.Sub(flat.Scale(along)).Norm() / heldAcross
	apart := h.apart(t)
	depth := (o.Dot(d) - along*u.Dot(d)) / apart
	on := heldShare / square(heldAcross) * math.Exp(-0.5*(across*across+depth*depth))
	off := (1 - heldShare) / square(freeAcross) * math.Exp(-0.5*square(seen.Norm()/freeAcross)) * apart / freeAcross
	return -2 * math.Log(on/apart+off/apart+1e-9)
}

// costs are the weighted costs of both choices in every frame.
func (h *habits) costs(cs []axisChoice) [][2]float64 {
	out := make([][2]float64, len(cs))
	for i := range cs {
		lo, hi := max(0, i-1), min(len(cs)-1, i+1)
		w := h.weight((cs[hi].t - cs[lo].t) / float64(hi-lo))
		for k := range 2 {
			out[i][k] = w * h.cost(cs[i].t, cs[i].u[k])
		}
	}
	return out
}
