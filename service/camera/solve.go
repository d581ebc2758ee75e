package camera

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"example.com/courtkin/service/geom"
)

const (
	leastMarks = 4
	// maxMarkEntries bounds the work that a client can ask for.
	maxMarkEntries = 4 * NumMarks
	// k1Marks is the number of marks from which k1 is estimated.
	k1Marks = 6
	// misfit is the probability under which a residual counts as too large to be
	// noise of markSD: common practice, no source.
	misfit = 1e-3
	// looseRMS is the share of the image's longer side over which marks contradict
	// one another: 10 px at 1920. Fingers on a small screen reach a third of it.
	looseRMS = 0.005
)

// Solve finds where a camera stands from four or more court marks.
//
// The focal length is estimated with the pose, under a wide belief about phone
// lenses, or held near the given one; k1 is estimated from k1Marks marks on. A
// mark that the others contradict is left out when it is clear which one that is
// (Pose.Dropped). The covariance assumes marks good to 1 px in 1920, and more when
// their residuals say so. The error is a *MarksError.
func Solve(cam Camera) (Pose, error) {
	s, err := sightings(cam)
	if err != nil {
		return Pose{}, err
	}
	best, ok := fitResult{}, false
	for _, net := range netsFor(s) {
		if ok && best.plausible() && len(best.pose.Dropped) == 0 {
			break
		}
		placed := onNet(s, net)
		if r, found := solveLens(cam, placed); found && (!ok || r.better(best)) {
			r.pose.Net = net
			best, ok = r, true
		}
	}
	if !ok {
		return Pose{}, fault(FaultContradictory, "no camera above the ground would see these court marks at these pixels")
	}
	return best.settle(cam)
}

// sightings validates the marks and pairs them with their places.
func sightings(cam Camera) ([]sighting, error) {
	if cam.Width == 0 || cam.Height == 0 {
		return nil, fault(FaultNoSize, "court marks need the image's width and height")
	}
	if len(cam.Marks) > maxMarkEntries {
		return nil, fault(FaultRepeated, "%d court marks given; there are %d", len(cam.Marks), NumMarks)
	}
	var s []sighting
	for _, m := range cam.Marks {
		w, ok := m.Mark.Point()
		if !ok {
			return nil, fault(FaultUnknownMark, "%d is no court mark", m.Mark)
		}
		if !inReach(m.X, float64(cam.Width)) || !inReach(m.Y, float64(cam.Height)) {
			return nil, fault(FaultNotFinite, "court mark %d lies at no pixel of the image", m.Mark)
		}
		next := sighting{m.Mark, w, m.X, m.Y}
		if twin, repeated := find(s, m.Mark); repeated {
			if math.Hypot(twin.x-m.X, twin.y-m.Y) > 3*markNoise(cam) {
				return nil, fault(FaultRepeated, "court mark %d is given at two places", m.Mark)
			}
			continue
		}
		s = append(s, next)
	}
	return s, enough(s)
}

// inReach tells whether a coordinate is inside the image or at most an image's
// extent outside, where a mark may be extrapolated.
func inReach(x, extent float64) bool { return x >= -extent && x <= 2*extent }

func find(s []sighting, m Mark) (sighting, bool) {
	for _, v := range s {
		if v.mark == m {
			return v, true
		}
	}
	return sighting{}, false
}

func enough(s []sighting) error {
	if len(s) < leastMarks {
		return fault(FaultTooFew, "%d different court marks given; a camera's place needs %d", len(s), leastMarks)
	}
	if spreadOf(s).rms[1] < flatness {
		return fault(FaultCollinear, "all court marks given lie on one line; add one beside it")
	}
	return nil
}

func netsFor(s []sighting) []Net {
	for _, v := range s {
		if math.Abs(v.world.Z) == postZ {
			return []Net{NetOnPosts, NetOnSticks}
		}
	}
	return []Net{NetOnPosts}
}

func onNet(s []sighting, net Net) []sighting {
	out := make([]sighting, len(s))
	for i, v := range s {
		v.world, _ = v.mark.point(net)
		out[i] = v
	}
	return out
}

// markNoise is the sd of a mark in this camera's pixels.
func markNoise(cam Camera) float64 {
	return markSD * max(1, float64(max(cam.Width, cam.Height))/markSDSide)
}

// fitResult is a pose with how well it fits.
type fitResult struct {
	pose  Pose
	chi2  float64 // sum of squared residuals and priors over noise
	dof   float64
	marks []sighting // those used
	lens  prior
}

// better prefers fewer marks left out, then the smaller misfit.
func (r fitResult) better(o fitResult) bool {
	if d, e := len(r.pose.Dropped), len(o.pose.Dropped); d != e {
		return d < e && (r.plausible() || !o.plausible())
	}
	return r.chi2 < o.chi2-1 // the doubles posts, unless the sticks explain more
}

func (r fitResult) plausible() bool {
	return distuv.ChiSquared{K: r.dof}.Survival(r.chi2) > misfit
}

// scale is the variance of the residuals over that of the assumed noise, at least 1.
func (r fitResult) scale() float64 { return max(1, r.chi2/r.dof) }

// solveLens solves with the given focal length and, when that does not fit or
// none is given, with an unknown one.
func solveLens(cam Camera, s []sighting) (fitResult, bool) {
	free := newSolver(cam, len(s))
	if !(cam.Focal > 0) || math.IsInf(cam.Focal, 1) {
		return free.robust(s)
	}
	held := free
	held.focals = []float64{cam.Focal}
	held.lens.logFocal, held.lens.logFocalSD = math.Log(cam.Focal), givenFocalSD
	r, ok := held.robust(s)
	if ok && len(r.pose.Dropped) == 0 && r.plausible() {
		return r, true
	}
	if o, found := free.robust(s); found && o.plausible() && (!ok || !r.plausible() || len(o.pose.Dropped) < len(r.pose.Dropped)) {
		o.pose.FocalDenied = true
		return o, true
	}
	return r, ok
}

// solver holds what stays the same while marks are tried.
type solver struct {
	size   frameSize
	focals []float64
	sd     float64
	lens   prior
	each   int // starts of each kind
}

// newSolver returns a solver for a camera of unknown focal length.
func newSolver(cam Camera, marks int) solver {
	side := float64(max(cam.Width, cam.Height))
	k1 := fixedK1SD
	if marks >= k1Marks {
		k1 = priorK1SD
	}
	return solver{
		size:   frameSize{float64(cam.Width) / 2, float64(cam.Height) / 2, side},
		focals: []float64{0.62 * side, 0.85 * side, 1.3 * side, 2.1 * side},
		sd:     markNoise(cam),
		each:   5,
		lens:   prior{math.Log(priorFocal * side), priorFocalSD, k1},
	}
}

// hopefulStarts is how many starts are followed to the end.
const hopefulStarts = 5

// fit returns the best pose for all of s; false when no start leads to a camera
// above the ground and the right way up.
func (v solver) fit(s []sighting) (fitResult, bool) {
	best := fitResult{chi2: math.Inf(1), marks: s, lens: v.lens}
	// Seven unknowns; the priors stand for one equation each.
	best.dof = max(1, float64(2*len(s)-7))
	hopeful := keeper{n: hopefulStarts}
	for _, p := range starts(s, v.size, v.focals, v.sd, v.lens, v.each) {
		q, c := descend(p, s, v.sd, v.lens, roughSteps)
		if stands(&q) {
			hopeful.offer(&q, c)
		}
	}
	for _, p := range hopeful.poses {
		q, c := refine(p, s, v.sd, v.lens)
		if c < best.chi2 && stands(&q) {
			best.pose, best.chi2 = q, c
			if c < best.dof {
				break // no other minimum can be told from this one
			}
		}
	}
	return best, !math.IsInf(best.chi2, 1)
}

// farthest is the distance, metres, from the middle of the court from which a phone
// still sees a player: common sense, no source.
const farthest = 100

// stands tells whether a camera is above the ground, near the court and not upside
// down. A picture taken sideways is let pass.
func stands(p *Pose) bool {
	up, c := p.R.Apply(geom.Vec3{Y: 1}), p.Center()
	return c.Y > 0 && up.Y < 0.3 && c.Sub(geom.Vec3{X: netX}).Norm() < farthest
}

// mostDropped is how many marks may be left out: one wrong tap, or two labels swapped.
const mostDropped = 2

// robust fits, and leaves out marks while one stands out clearly.
func (v solver) robust(s []sighting) (fitResult, bool) {
	r, ok := v.fit(s)
	for range min(mostDropped, len(s)/4) {
		if ok && r.plausible() || len(r.marks) < 6 {
			break
		}
		next, clear := v.withoutWorst(r, ok)
		if !clear {
			break
		}
		r, ok = next, true
	}
	return r, ok
}

// withoutWorst leaves out the one mark whose absence helps most. It is clear
// when the gain is significant (F test at misfit, for the number of marks tried) and
// no other mark's absence helps nearly as much.
func (v solver) withoutWorst(full fitResult, fitted bool) (fitResult, bool) {
	best, second := fitResult{chi2: math.Inf(1)}, math.Inf(1)
	v.each = 1
	for i := range full.marks {
		rest := append(append([]sighting{}, full.marks[:i]...), full.marks[i+1:]...)
		r, ok := v.fit(rest)
		if !ok {
			continue
		}
		if r.chi2 < best.chi2 {
			r.pose.Dropped = append(append([]Mark{}, full.pose.Dropped...), full.marks[i].mark)
			best, second = r, best.chi2
		} else {
			second = min(second, r.chi2)
		}
	}
	if math.IsInf(best.chi2, 1) {
		return best, false
	}
	noise := best.scale()
	f := distuv.F{D1: 2, D2: best.dof}
	gain := f.Survival(max(0, full.chi2-best.chi2) / 2 / noise)
	significant := !fitted || gain < misfit/float64(len(full.marks))
	return best, significant && (second-best.chi2)/noise > 9
}

// settle fills in the covariance and the residual, and refuses a poor fit.
func (r fitResult) settle(cam Camera) (Pose, error) {
	p := r.pose
	sum := 0.0
	for _, m := range r.marks {
		x, y, _ := p.Project(m.world)
		sum += (x-m.x)*(x-m.x) + (y-m.y)*(y-m.y)
	}
	p.RMS = math.Sqrt(sum / float64(len(r.marks)))
	if p.RMS > looseRMS*float64(max(cam.Width, cam.Height)) {
		return Pose{}, fault(FaultContradictory, "the court marks contradict one another by %.0f px", p.RMS)
	}
	sd := markNoise(cam)
	a, _ := normalEquations(&p, r.marks, sd*math.Sqrt(r.scale()), r.lens)
	cov, ok := invert(a)
	if !ok {
		return Pose{}, fault(FaultCollinear, "the court marks leave the camera's place open; add one off their line")
	}
	p.Cov = cov
	return r.withRivals(cam, p), nil
}

const (
	// rivalChi2 is how much worse another minimum may fit and still count:
	// e^(−9/2) ≈ 1 % of the likelihood.
	rivalChi2 = 9
	// rivalApart is the squared distance, in sds, from which a minimum is another one.
	rivalApart = 9
)

// withRivals widens the covariance by other minima that fit nearly as well, as
// the second moment of the mixture about the best: few marks in a line and one
// beside it can leave two focal lengths open.
func (r fitResult) withRivals(cam Camera, p Pose) Pose {
	v := newSolver(cam, len(r.marks))
	v.lens = r.lens
	if r.lens.logFocalSD == givenFocalSD {
		v.focals = []float64{cam.Focal}
	}
	info, ok := invert(p.Cov)
	if !ok {
		return p
	}
	var found []Params
	for _, start := range starts(r.marks, v.size, v.focals, v.sd, v.lens, v.each) {
		q, c := refine(start, r.marks, v.sd, v.lens)
		excess := (c - r.chi2) / r.scale()
		d := p.to(&q)
		if excess > rivalChi2 || !stands(&q) || info.along(d) < rivalApart || listed(found, d) {
			continue
		}
		found = append(found, d)
		w := math.Exp(-max(0, excess) / 2)
		share := w / (1 + w)
		for a := range d {
			for b := range d {
				p.Cov[a][b] += share * d[a] * d[b]
			}
		}
		p.Ambiguous = true
	}
	return p
}

// listed tells whether a change is as good as one already found.
func listed(found []Params, d Params) bool {
	for _, f := range found {
		apart, size := 0.0, 0.0
		for i := range d {
			apart += (f[i] - d[i]) * (f[i] - d[i])
			size += d[i] * d[i]
		}
		if apart < 1e-4*size {
			return true
		}
	}
	return false
}
