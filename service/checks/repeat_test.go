package checks

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/signal"
)

// repeatRows: a player's strokes among those of others, and the order of peaks.
func repeatRows() []row {
	return []row{
		{id: "rec repeat", quantity: "forehands whose nearest neighbour among all players' forehands is the same player's other one (by chance: 1 in 9 or so)", unit: "%", want: 50, above: true,
			got: nearestIsOwn, source: mocapSource, seen: computed},
		{id: "rec G13", quantity: "ground strokes in which the hips turn fastest before the shoulders do, or within 5 ms, over the last 0.35 s", unit: "%", want: 50, above: true,
			got: sharing(ofRecorded(ground), func(s *measure.Sheet) float64 { return peakOf(s, "shoulder_turn") - peakOf(s, "hip_turn") }, func(v float64) bool { return v > -.005 }), source: landE + " (the order)", seen: read},
		{id: "rec G19", quantity: "serves in which the shoulders turn fastest before the elbow extends fastest, over the last 0.35 s", unit: "%", want: 50, above: true,
			got:    sharing(ofRecorded([]body.Stroke{body.Serve}), func(s *measure.Sheet) float64 { return peakOf(s, "elbow.hitting") - peakOf(s, "shoulder_turn") }, func(v float64) bool { return v > -.005 }),
			source: "Fleisig et al. 2003, Sports Biomech 2:51 (the order)", seen: read},
	}
}

// peakOf is when a curve falls fastest in the 0.35 s before contact, s from it.
func peakOf(s *measure.Sheet, name string) float64 {
	v := curveOf(s, name)
	if v == nil {
		return math.NaN()
	}
	d, _ := signal.Parabola(v, measure.TraceStep, 2)
	top, at := 0., math.NaN()
	for i, t := range s.Trace.Times {
		if t > -.35 && t < 1e-6 && -d[i] > top {
			top, at = -d[i], float64(t)
		}
	}
	return at
}

// forehands are the recorded forehands with their players: single clips, and nothing
// of the series, which is one player's.
func forehands(t *testing.T) (sheets []*measure.Sheet, players []string) {
	for _, w := range compared(t) {
		if w.clip.stroke() == body.Forehand && len(w.sheets) == 1 {
			sheets, players = append(sheets, w.sheets[0]), append(players, w.clip.about.Subject)
		}
	}
	return sheets, players
}

// nearestIsOwn is the percentage of the forehands of players with two of them whose
// nearest neighbour is their own. Distance: mean over the figures that both have of
// the difference over the figure's spread among all, cut at 3. Figures that hang on the
// direction of play are left out: it is assumed in each clip anew.
func nearestIsOwn(t *testing.T) float64 {
	sheets, players := forehands(t)
	spread := map[string]float64{}
	for _, row := range measure.Catalog() {
		if row.NeedsTarget {
			continue
		}
		var v []float64
		for _, s := range sheets {
			if x := figure(s, row.Name); !math.IsNaN(x) {
				v = append(v, x)
			}
		}
		if len(v) >= 6 {
			spread[row.Name] = deviation(v)
		}
	}
	far := func(a, b *measure.Sheet) float64 {
		sum, n := 0., 0.
		for name, sd := range spread {
			if d := math.Abs(figure(a, name)-figure(b, name)) / sd; sd > 0 && !math.IsNaN(d) {
				sum, n = sum+min(d, 3), n+1
			}
		}
		return sum / n
	}
	own, asked := 0., 0.
	for i, p := range players {
		best, others, twin := -1, math.Inf(1), false
		for k := range sheets {
			if k == i {
				continue
			}
			twin = twin || players[k] == p
			if d := far(sheets[i], sheets[k]); d < others {
				best, others = k, d
			}
		}
		if !twin {
			continue
		}
		asked++
		if players[best] == p {
			own++
		}
		t.Logf("%s's forehand is nearest to one of %s's (%.2f)", p, players[best], others)
	}
	return 100 * own / asked
}

func deviation(v []float64) float64 {
	mean := 0.
	for _, x := range v {
		mean += x / float64(len(v))
	}
	sum := 0.
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	return math.Sqrt(sum / float64(len(v)-1))
}

// cocoPoints are the keypoints that a trace and the recordings share, by their place in
// COCO's order.
var cocoPoints = map[int]body.Point{5: body.LeftShoulder, 6: body.RightShoulder, 7: body.LeftElbow, 8: body.RightElbow, 9: body.LeftWrist, 10: body.RightWrist,
	11: body.LeftHip, 12: body.RightHip, 13: body.LeftKnee, 14: body.RightKnee, 15: body.LeftAnkle, 16: body.RightAnkle}

// similarity is the mean object keypoint similarity, COCO's, of the settled motion with
// the recording, both seen by the camera that filmed it, over the second before contact:
// exp(−d²/2s²k²), k = 2σ, s² the area of the box around the keypoints.
func (a *again) similarity() float64 {
	if len(a.got) == 0 || len(a.shot.eyes) == 0 {
		return math.NaN()
	}
	sheet, eye := a.got[0], a.shot.eyes[0]
	sum, n := 0., 0.
	contact := when(sheet, phase.Contact)
	for i, at := range sheet.Trace.Times {
		if at < -1 || at > 0 {
			continue
		}
		places := a.stage.recording.at(contact + float64(at) - 1)
		var d [17]float64
		box := [4]float64{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
		for k, p := range cocoPoints {
			x, y, _ := eye.Project(a.stage.onCourt(places[p]))
			u, v, _ := eye.Project(tracePath(sheet, p).at[i])
			d[k] = math.Hypot(x-u, y-v)
			box = [4]float64{min(box[0], x), max(box[1], x), min(box[2], y), max(box[3], y)}
		}
		area := (box[1] - box[0]) * (box[3] - box[2])
		for k := range cocoPoints {
			s := 2 * cocoSigmas[k]
			sum, n = sum+math.Exp(-d[k]*d[k]/(2*area*s*s)), n+1
		}
	}
	return sum / n
}

// similarityRow is the median over the clips.
func similarityRow(id, condition string) row {
	return row{id: id, quantity: condition + ": the settled motion through the camera that filmed it, against the recording through the same: object keypoint similarity (COCO's σ), median over clips", want: .95, above: true, source: coco + " (σ, formula); bound ours", seen: read,
		got: func(t *testing.T) float64 {
			var v []float64
			for _, a := range reseen(t)[condition] {
				if s := a.similarity(); !math.IsNaN(s) {
					v = append(v, s)
				}
			}
			return signal.Median(v)
		}}
}
