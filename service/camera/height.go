package camera

import (
	"math"

	"example.com/courtkin/service/body"
)

// ClockOffsetByHeight finds the offset between the clocks of two level cameras
// without poses: what rises in one view rises in the other, so the vertical image
// speeds of common points correlate best at the offset. Where they do not, the
// speeds' sizes must serve, which peak together but are not alike. The sd is the
// jackknife over points, at least heightFloor (speedFloor). Poses of the answer are
// empty. The ball is left out: its image rises and falls with its distance.
func ClockOffsetByHeight(frames [2][]body.Frame, reach float64) (ClockFit, error) {
	first, later := paths(frames[0]), paths(frames[1])
	fit, ok := matchMotion(first, later, reach, func(_, vy float64) float64 { return vy }, heightFloor)
	if !ok {
		fit, ok = matchMotion(first, later, reach, math.Hypot, speedFloor)
	}
	if !ok {
		return ClockFit{}, ErrNoCommonMotion
	}
	return fit, nil
}

// matchMotion correlates a figure of the image velocity.
func matchMotion(first, later *[body.NumPoints]path, reach float64, figure func(vx, vy float64) float64, floor float64) (ClockFit, bool) {
	h := heightMatch{steps: int(reach / clockGrid), figure: figure}
	n := 0
	for k := range body.Ball {
		n += h.addPoint(&first[k], &later[k])
	}
	all, ok := h.best(-1)
	if n < clockLeastPairs || !ok {
		return ClockFit{}, false
	}
	var sum float64
	for k := range h.points {
		if o, ok := h.best(k); ok {
			sum += (o - all) * (o - all)
		}
	}
	m := float64(len(h.points))
	unlike := heightUnlike * (1 - h.correlation(h.steps+int(math.Round(all/clockGrid)), -1))
	sd := math.Sqrt(floor*floor + unlike*unlike + sum*(m-1)/m)
	return ClockFit{Offset: all, SD: sd, Points: n}, true
}

const (
	// heightFloor is the least sd, seconds: vertical motions seen from two sides
	// are alike, not equal. Common practice, no source.
	heightFloor = 0.006
	// speedFloor is the same for sizes of speeds: a frame or two.
	speedFloor = 0.025
	// heightUnlike is the sd, seconds, per unit of correlation lacking; set by the
	// spread of made offsets (TestClockOffsetByHeight).
	heightUnlike = 0.1
	// heightSamples bounds the sightings of a point that are used.
	heightSamples = 200
	// heightFastest cuts the speeds of wrong points, pixels a second.
	heightFastest = 2500
	// heightLeast is the least correlation that counts as common motion.
	heightLeast = 0.6
)

// heightMatch holds, for each point and each trial offset −steps … steps, the sums
// of products of the two views' figures of speed.
type heightMatch struct {
	steps  int
	figure func(vx, vy float64) float64
	points [][]heightSums
}

type heightSums struct{ ab, aa, bb float64 }

// addPoint correlates one point; it returns the sightings used.
func (h *heightMatch) addPoint(a, b *path) int {
	if len(a.t) < 4 || len(b.t) < 4 {
		return 0
	}
	sums := make([]heightSums, 2*h.steps+1)
	stride, n := 1+len(a.t)/heightSamples, 0
	cut := func(v float64) float64 { return max(-heightFastest, min(heightFastest, v)) }
	for i := 0; i < len(a.t); i += stride {
		va := h.figure(a.slope(a.t[i]))
		n++
		for k := range sums {
			vb := h.figure(b.slope(a.t[i] - float64(k-h.steps)*clockGrid))
			va, vb := cut(va), cut(vb)
			sums[k].ab += va * vb
			sums[k].aa += va * va
			sums[k].bb += vb * vb
		}
	}
	h.points = append(h.points, sums)
	return n
}

// correlation is that of all points but skip, at trial k.
func (h *heightMatch) correlation(k, skip int) float64 {
	var s heightSums
	for i, p := range h.points {
		if i != skip {
			s.ab += p[k].ab
			s.aa += p[k].aa
			s.bb += p[k].bb
		}
	}
	if s.aa == 0 || s.bb == 0 {
		return 0
	}
	return s.ab / math.Sqrt(s.aa*s.bb)
}

// best is the offset of highest correlation, between trials by a parabola.
func (h *heightMatch) best(skip int) (float64, bool) {
	top, at := heightLeast, 0
	for k := 1; k < 2*h.steps; k++ {
		if c := h.correlation(k, skip); c > top {
			top, at = c, k
		}
	}
	if at == 0 {
		return 0, false
	}
	l, r := h.correlation(at-1, skip), h.correlation(at+1, skip)
	shift := 0.0
	if d := l - 2*top + r; d < 0 {
		shift = max(-1, min(1, (l-r)/(2*d)))
	}
	return (float64(at-h.steps) + shift) * clockGrid, true
}
