package camera

import (
	"math"

	"example.com/courtkin/service/geom"
)

// sighting is a known world point seen at a pixel.
type sighting struct {
	mark  Mark
	world geom.Vec3
	x, y  float64 // pixels
}

// prior holds Gaussian beliefs about the lens.
type prior struct {
	logFocal, logFocalSD float64
	k1SD                 float64 // about 0
}

// Beliefs about lenses.
const (
	// A phone's main lens covers 65–80° across (24–30 mm on 36 mm), and video
	// crops a little: focal/long side about 0.65–0.95; a 2× lens 1.4, a camcorder
	// more. Common practice, no source: median 0.95, ±0.4 in the logarithm takes
	// in 0.64–1.42 at one sd.
	priorFocal   = 0.95
	priorFocalSD = 0.40
	// A focal length that is given comes from a data sheet or a calibration and
	// breathes with focus: 1 %, common practice, no source.
	givenFocalSD = 0.01
	// Phones correct their video for distortion; what is left is under about 1 % at
	// the edge (k1·r² with r² ≈ 0.3). Common practice, no source.
	priorK1SD = 0.03
	// Without enough marks k1 stays 0.
	fixedK1SD = 1e-6
	// maxK1 keeps the model from folding inside the image.
	maxK1 = 0.3
)

// markSD is the error of a court mark in pixels, in an image of markSDSide
// pixels along its longer side (accuracy.md: ±1 px at 1080p); larger images are
// tapped no better in proportion.
const (
	markSD     = 1.0
	markSDSide = 1920
)

// cost is the sum of squares over noise of the reprojection and the priors;
// +Inf when a point is not in front of the camera.
func cost(p *Pose, s []sighting, sd float64, b prior) float64 {
	sum := 0.0
	for i := range s {
		x, y, ok := p.Project(s[i].world)
		if !ok {
			return math.Inf(1)
		}
		dx, dy := x-s[i].x, y-s[i].y
		sum += (dx*dx + dy*dy) / (sd * sd)
	}
	lf, k := (math.Log(p.Focal)-b.logFocal)/b.logFocalSD, p.K1/b.k1SD
	if math.Abs(p.K1) > maxK1 || math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum + lf*lf + k*k
}

// normalEquations returns the lower triangle of JᵀWJ, and JᵀWr, of the cost.
func normalEquations(p *Pose, s []sighting, sd float64, b prior) (a Cov, g Params) {
	w := 1 / (sd * sd)
	for i := range s {
		x, y, _ := p.Project(s[i].world)
		jx, jy := p.ParamJacobian(s[i].world)
		addRow(&a, &g, &jx, s[i].x-x, w)
		addRow(&a, &g, &jy, s[i].y-y, w)
	}
	wf, wk := 1/(b.logFocalSD*b.logFocalSD), 1/(b.k1SD*b.k1SD)
	a[6][6] += wf
	g[6] += wf * (b.logFocal - math.Log(p.Focal))
	a[7][7] += wk
	g[7] -= wk * p.K1
	return a, g
}

// addRow adds one row's information to the lower triangle of a, and to g.
func addRow(a *Cov, g, j *Params, r, w float64) {
	for m := range j {
		wj := w * j[m]
		g[m] += wj * r
		for n := 0; n <= m; n++ {
			a[m][n] += wj * j[n]
		}
	}
}

// refineSteps bounds the work; a good start needs five to fifteen. roughSteps show
// which starts lead somewhere.
const refineSteps, roughSteps = 50, 6

// refine runs Levenberg–Marquardt (Marquardt 1963, J SIAM 11:431) from p and
// returns the minimum's pose and cost.
func refine(p Pose, s []sighting, sd float64, b prior) (Pose, float64) {
	return descend(p, s, sd, b, refineSteps)
}

// descend is refine with a bound on the steps.
func descend(p Pose, s []sighting, sd float64, b prior, steps int) (Pose, float64) {
	best := cost(&p, s, sd, b)
	lambda := 1e-3
	for range steps {
		if math.IsInf(best, 1) {
			break
		}
		a, g := normalEquations(&p, s, sd, b)
		next, c, ok := tryStep(&p, a, g, lambda, s, sd, b)
		if !ok || !(c < best) {
			lambda *= 8
			if lambda > 1e9 {
				break
			}
			continue
		}
		gain := best - c
		p, best = next, c
		lambda = max(lambda/6, 1e-9)
		if gain < 1e-9*(1+best) {
			break
		}
	}
	return p, best
}

func tryStep(p *Pose, a Cov, g Params, lambda float64, s []sighting, sd float64, b prior) (Pose, float64, bool) {
	l, ok := cholesky(a, lambda)
	if !ok {
		return *p, 0, false
	}
	next := p.Moved(solveCholesky(&l, g))
	return next, cost(&next, s, sd, b), true
}
