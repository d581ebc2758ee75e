package checks

import (
	"context"
	"math"
	"strings"
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
)

// Sources of the standards.
const (
	itf  = "ITF Rules of Tennis, rules 1, 3, 4 and appendices I, II, as copied on public pages"
	isb  = "Wu & Cavanagh 1995 and Wu et al. 2002, 2005, ISB recommendations; pose by hand"
	ucum = "UCUM, table of units (c/s)"
	coco = "COCO keypoints, person category and cocoeval.py"
	bcp  = "BCP 47: RFC 5646 §2.1.1 (case does not matter), RFC 4647 §3.4 (lookup)"
)

// standardsRows: rules of the game, axes, joints, units, orders, languages.
func standardsRows() (rows []row) {
	rows = append(rows, equipmentRows()...)
	rows = append(rows, poseRows()...)
	return append(rows,
		row{id: "UCUM units", quantity: "measures of the catalog whose unit is no UCUM expression of s, m, deg, 1", want: 0, tol: .1,
			got: func(t *testing.T) float64 { return unfit(t, catalogUnits()) }, source: ucum, seen: memory},
		row{id: "UCUM parser", quantity: "of the expressions m/s, deg/s, 1, °, degrees, m/sec, s-1: taken for fit", want: 3, tol: .1,
			got: func(*testing.T) float64 {
				return 7 - unfit(nil, []string{"m/s", "deg/s", "1", "°", "degrees", "m/sec", "s-1"})
			}, source: ucum, seen: memory},
		row{id: "G32 order", quantity: "places of the COCO order that our layout reads as another point", want: 0, tol: .1, got: cocoOrder, source: coco, seen: read},
		row{id: "COCO names", quantity: "COCO's keypoint names that the named layout does not know", want: 0, tol: .1, got: cocoNames, source: coco, seen: read},
		row{id: "BCP 47 German", quantity: "of de, DE, de-AT, de-Latn-DE, de_CH: answered in another language than de", want: 0, tol: .1,
			got: func(t *testing.T) float64 { return otherThan(t, "de", "DE", "de-AT", "de-Latn-DE", "de_CH") }, source: bcp, seen: memory},
		row{id: "BCP 47 English", quantity: "of none, en-GB, EN-us, fr, x-private, den: answered in another language than en", want: 0, tol: .1,
			got: func(t *testing.T) float64 { return otherThan(t, "en", "", "en-GB", "EN-us", "fr", "x-private", "den") }, source: bcp, seen: memory},
	)
}

func equipmentRows() []row {
	m := madeForehand()
	racket := func(quantity string, limit, got float64) row {
		return row{id: "G25 " + quantity, quantity: "made racket: " + quantity, unit: "m", want: limit + 1e-9, below: true, got: value(got), source: itf, seen: readSecond}
	}
	return []row{
		racket("length", .7366, m.Build.Racket),
		racket("frame width", .3175, m.Build.HeadWidth),
		racket("length of the strung area", .3937, m.Build.Racket-m.Build.Throat),
		{id: "G25 accepted", quantity: "a racket of the longest legal length, 0.7366 m, and one of 1 m: taken", want: 1, tol: .1, source: itf, seen: readSecond,
			got: func(*testing.T) float64 { return taken(.7366) + taken(1) }},
		{id: "axes", quantity: "court axes: (baseline to net) × up, along the line from the left to the right sideline", want: 1, tol: 1e-9, source: isb, seen: memory,
			got: func(t *testing.T) float64 {
				ahead := mark(t, 11).Sub(mark(t, 3)).Unit()
				up := mark(t, 12).Sub(mark(t, 11)).Unit()
				return ahead.Cross(up).Dot(mark(t, 4).Sub(mark(t, 2)).Unit())
			}},
	}
}

// taken is 1 for a racket length that the setup accepts.
func taken(length float64) float64 {
	if _, err := swing.New(swing.Setup{Axes: camera.AxesCourt, RacketLength: length}); err != nil {
		return 0
	}
	return 1
}

// pose is a player who faces the net with a straight body, arms hanging: places in
// court axes that a row then changes.
func pose() map[body.Point]geom.Vec3 {
	p := map[body.Point]geom.Vec3{}
	for q, v := range map[body.Point]geom.Vec3{
		body.RightEar: {Y: 1.65, Z: .08}, body.RightShoulder: {Y: 1.45, Z: .2}, body.RightElbow: {Y: 1.15, Z: .2}, body.RightWrist: {Y: .9, Z: .2},
		body.RightHip: {Y: 1, Z: .15}, body.RightKnee: {Y: .55, Z: .15}, body.RightAnkle: {Y: .1, Z: .15},
	} {
		p[q], p[q.Twin()] = v, v.MirrorZ()
	}
	p[body.Nose] = geom.Vec3{X: .12, Y: 1.65}
	p[body.RacketTip] = geom.Vec3{X: .3, Y: 1, Z: 1.1}
	return p
}

// around turns v by degrees in the plane from axis a to axis b.
func around(degrees float64, a, b geom.Vec3) geom.Vec3 {
	r := degrees * math.Pi / 180
	return a.Scale(math.Cos(r)).Add(b.Scale(math.Sin(r)))
}

// Axes of the court.
var ahead, up, right = geom.Vec3{X: 1}, geom.Vec3{Y: 1}, geom.Vec3{Z: 1}

// line stands a pair of joints so that the normal out of the chest points to d.
func line(p map[body.Point]geom.Vec3, left body.Point, d geom.Vec3) {
	mid, half := p[left].Lerp(p[left.Twin()], .5), p[left.Twin()].Sub(p[left]).Norm()/2
	r := d.Cross(up).Unit() // facing × up points to the right
	p[left], p[left.Twin()] = mid.Sub(r.Scale(half)), mid.Add(r.Scale(half))
}

// poseRows: joint angles of poses by hand, through the measures.
func poseRows() (rows []row) {
	add := func(id, what, name string, want float64, s body.Stroke, change func(p map[body.Point]geom.Vec3)) {
		rows = append(rows, row{id: "ISB " + id, quantity: what + ": `" + name + "`", unit: "°", want: want, tol: 1e-6, source: isb, seen: computed,
			got: func(t *testing.T) float64 {
				p := pose()
				change(p)
				return evaluated(t, stillCourse(p), name, s)
			}})
	}
	elbow := func(flexion float64) func(p map[body.Point]geom.Vec3) {
		return func(p map[body.Point]geom.Vec3) { // the forearm swings forward about the humerus's Z
			p[body.RightWrist] = p[body.RightElbow].Add(around(flexion, up.Scale(-1), ahead).Scale(.25))
		}
	}
	knee := func(flexion float64) func(p map[body.Point]geom.Vec3) {
		return func(p map[body.Point]geom.Vec3) { // the shank swings backward
			p[body.RightAnkle] = p[body.RightKnee].Add(around(flexion, up.Scale(-1), ahead.Scale(-1)).Scale(.45))
		}
	}
	face := func(left body.Point, degrees float64, side geom.Vec3) func(p map[body.Point]geom.Vec3) {
		return func(p map[body.Point]geom.Vec3) { line(p, left, around(degrees, ahead, side)) }
	}
	lean := func(degrees float64, to geom.Vec3) func(p map[body.Point]geom.Vec3) {
		return func(p map[body.Point]geom.Vec3) {
			hip := p[body.LeftHip].Lerp(p[body.RightHip], .5)
			move := hip.Add(around(degrees, up, to).Scale(.45)).Sub(p[body.LeftShoulder].Lerp(p[body.RightShoulder], .5))
			p[body.LeftShoulder], p[body.RightShoulder] = p[body.LeftShoulder].Add(move), p[body.RightShoulder].Add(move)
		}
	}
	add("elbow 0", "elbow straight", "elbow.hitting.contact", 0, body.Forehand, elbow(0))
	add("elbow 35", "forearm 35° forward of the upper arm", "elbow.hitting.contact", 35, body.Forehand, elbow(35))
	add("elbow 104", "G20: cocked elbow of a serve, flexed by 104°", "elbow.hitting.contact", 104, body.Serve, elbow(104))
	add("elbow 150", "forearm folded by 150°", "elbow.hitting.contact", 150, body.Forehand, elbow(150))
	add("knee 0", "knee straight", "legs.knee_back.max", 0, body.TwoHandedBackhand, func(map[body.Point]geom.Vec3) {})
	add("knee 70", "shank 70° behind the thigh's line", "legs.knee_back.max", 70, body.Forehand, knee(70))
	add("thorax 0", "chest to the net", "turn.shoulders.contact", 0, body.Forehand, func(map[body.Point]geom.Vec3) {})
	add("thorax 83", "G01: chest 83.4° to the left, ball on the left", "turn.shoulders.contact", 83.4, body.TwoHandedBackhand, face(body.LeftShoulder, 83.4, right.Scale(-1)))
	add("thorax 119", "G01: chest 119.1° to the left, one-handed", "turn.shoulders.contact", 119.1, body.OneHandedBackhand, face(body.LeftShoulder, 119.1, right.Scale(-1)))
	add("thorax −20", "chest 20° to the left, ball on the right", "turn.shoulders.contact", -20, body.Forehand, face(body.LeftShoulder, 20, right.Scale(-1)))
	add("pelvis 47", "belly 47.4° to the right, ball on the right", "turn.hips.contact", 47.4, body.Forehand, face(body.LeftHip, 47.4, right))
	add("separation", "belly 30° on to the right of a chest to the net", "turn.separation.contact", -30, body.Forehand, face(body.LeftHip, 30, right))
	add("trunk 42", "G20: trunk 48° above the horizontal, toward the net", "posture.lean_forward", 42, body.Serve, lean(42, ahead))
	add("trunk side", "trunk 12° to the left, ball on the right", "posture.lean_side", -12, body.Forehand, lean(12, right.Scale(-1)))
	add("tilt", "right shoulder 17° higher, ball on the right", "posture.shoulder_tilt", 17, body.Forehand, func(p map[body.Point]geom.Vec3) {
		d := around(17, right, up).Scale(.2)
		mid := geom.Vec3{Y: 1.45}
		p[body.LeftShoulder], p[body.RightShoulder] = mid.Sub(d), mid.Add(d)
	})
	return rows
}

func catalogUnits() (units []string) {
	for _, r := range measure.Catalog() {
		units = append(units, r.Unit)
	}
	return units
}

// unfit counts what is no UCUM expression: unity, or atoms joined by . and /, each
// with an exponent if need be.
func unfit(t *testing.T, units []string) (n float64) {
	atoms := map[string]bool{"s": true, "m": true, "deg": true, "rad": true, "g": true, "Hz": true, "1": true, "%": true}
	for _, u := range units {
		for _, a := range strings.FieldsFunc(u, func(c rune) bool { return c == '/' || c == '.' }) {
			if !atoms[strings.TrimRight(a, "23")] {
				n++
				if t != nil {
					t.Logf("%q", u)
				}
				break
			}
		}
	}
	return n
}

// cocoKeypoints is the order of the person category.
var cocoKeypoints = []string{"nose", "left_eye", "right_eye", "left_ear", "right_ear", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
	"left_wrist", "right_wrist", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle"}

// cocoSigmas are the keypoints' own, in that order: the spread of human labels as a
// share of √(object area).
var cocoSigmas = []float64{.026, .025, .025, .035, .035, .079, .079, .072, .072, .062, .062, .107, .107, .087, .087, .089, .089}

func cocoOrder(*testing.T) (wrong float64) {
	for i, name := range cocoKeypoints {
		p := body.Unused
		if i < len(body.COCO17) {
			p = body.COCO17[i]
		}
		if eye := strings.HasSuffix(name, "eye"); eye && p != body.Unused || !eye && p.String() != name {
			wrong++
		}
	}
	return wrong + math.Abs(float64(len(body.COCO17)-len(cocoKeypoints)))
}

func cocoNames(*testing.T) float64 {
	_, unknown := body.NamedLayout(cocoKeypoints)
	return float64(len(unknown))
}

// otherThan counts locales whose catalog is not the one of language.
func otherThan(t *testing.T, language string, locales ...string) (n float64) {
	srv, err := service.New(service.Config{})
	if err != nil {
		t.Fatal(err)
	}
	text := func(locale string) string {
		res, err := srv.GetCatalog(context.Background(), &pb.GetCatalogRequest{Locale: locale})
		if err != nil {
			t.Fatal(err)
		}
		all := ""
		for _, c := range res.Cues {
			all += c.Text + c.Drill
		}
		return all
	}
	if text("en") == text("de") {
		t.Fatal("both languages read the same")
	}
	for _, l := range locales {
		if text(l) != text(language) {
			t.Logf("%q", l)
			n++
		}
	}
	return n
}
