package swing

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/track"
)

// ballWay is a ball's height, m, at a time before contact, s.
type ballWay func(before float64) float64

// dropped bounces at an instant before contact and keeps three quarters of its fall.
func dropped(at, fall float64) ballWay {
	const g = 9.80665
	return func(before float64) float64 {
		s := at - before // since the bounce
		if s < 0 {
			return -fall*s - g/2*s*s
		}
		return 0.75*fall*s - g/2*s*s
	}
}

// seenBy are the frames of a standing player and a ball up to contact at 1.2 s: in the
// world, or by a camera 8 m off that looks along the ball's way, which comes at 12 m/s.
func seenBy(way ballWay, world bool, from, rate, noise float64) ([]body.Frame, *track.Window) {
	rng := rand.New(rand.NewPCG(1, 2))
	stand := map[body.Point][2]float64{body.LeftShoulder: {-.18, 1.45}, body.RightShoulder: {.18, 1.45}, body.LeftHip: {-.12, .95},
		body.RightHip: {.12, .95}, body.LeftKnee: {-.12, .5}, body.RightKnee: {.12, .5}, body.LeftAnkle: {-.12, .08}, body.RightAnkle: {.12, .08}}
	var out []body.Frame
	for t := 0.0; t < 1.3; t += 1 / rate {
		f := body.Frame{Index: uint32(len(out)), TimeUS: int64(math.Round(t * 1e6))}
		put := func(p body.Point, x, y, depth float64) {
			y += noise * rng.NormFloat64()
			if world {
				f.World[p] = body.Seen3{X: float32(depth), Y: float32(y), Z: float32(x), Score: 1}
				return
			}
			f.Image[p] = body.Seen2{X: float32(960 + 1400*x/(8+depth)), Y: float32(540 - 1400*(y-1.5)/(8+depth)), Score: 1}
		}
		for p, x := range stand {
			put(p, x[0], x[1], 0)
		}
		if before := 1.2 - t; before < from && before > 0 {
			y := way(before)
			if len(out)%37 == 5 { // a gross outlier now and then
				y += 0.7
			}
			put(body.Ball, .5, y, 12*before)
		}
		out = append(out, f)
	}
	return out, &track.Window{Slow: 1}
}

func TestABounceIsSeenAndNothingElse(t *testing.T) {
	fly := func(up float64) ballWay { // ends at 1 m
		return func(before float64) float64 { return 1 - up*before - 9.80665/2*before*before + 9.80665*before*before }
	}
	toss := func(before float64) float64 { // lies in a hand until 0.7 s before contact
		s := max(0.7-before, 0)
		return 1.3 + 5.4*s - 9.80665/2*s*s
	}
	for _, c := range []struct {
		name string
		way  ballWay
		from float64 // seen from, s before contact
		want float64
	}{
		{"bounced 0.4 s before", dropped(.4, 5), 1, bounceSaid},
		{"bounced 0.15 s before", dropped(.15, 4), 1, bounceSaid},
		{"seen from after its bounce", dropped(.4, 5), .3, 0},
		{"flew, falling", fly(-2), 1, bounceNever},
		{"flew, rising", fly(1.5), 1, bounceNever},
		{"flew, seen late", fly(-2), .4, 0},
		{"tossed", toss, 1, bounceNever},
		{"not seen", fly(0), 0, 0},
	} {
		for _, view := range []struct {
			name        string
			world       bool
			rate, noise float64
		}{{"world 120 Hz", true, 120, .008}, {"image 60 Hz", false, 60, .008}} {
			frames, w := seenBy(c.way, view.world, c.from, view.rate, view.noise)
			if got := unbounced(frames, w, 0, 1.2); got != c.want {
				t.Errorf("%s, %s: %g, want %g", c.name, view.name, got, c.want)
			}
		}
	}
}

// A drive may go down through the ball, as recorded ones do: a long way back, a turning
// chest and a high finish say that it is no volley. Figures of recorded strokes.
func TestAFlatDriveIsNoVolley(t *testing.T) {
	for _, c := range []struct {
		name                    string
		rise, back, turn, slope float64
		volley                  bool
	}{
		{"flat drive", .67, .62, 96, -18, false},
		{"rising drive", .31, .59, 87, 22, false},
		{"volley", .00, .33, 44, -3, true},
		{"volley with a turn", .07, .42, 101, -16, true},
	} {
		f := features{rise: c.rise, back: c.back, turn: c.turn, slope: c.slope, racket: true}
		if got := f.punchOdds() > 0; got != c.volley {
			t.Errorf("%s: log-odds %.1f of a volley", c.name, f.punchOdds())
		}
	}
}
