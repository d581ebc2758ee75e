package swing

import (
	"math"

	"example.com/courtkin/service/geom"
)

// filter follows one point causally: position, velocity and acceleration by a
// fading-memory quadratic (an α-β-γ filter of constant cost; Morrison 1969,
// "Introduction to Sequential Smoothing and Prediction", from memory). Its gains
// follow from θ = exp(−dt/memory), so that uneven times are no trouble; its
// first steps remember everything, as a growing-memory filter does.
type filter struct {
	memory float64 // s: what is this old counts 1/e per state

	x, v, a geom.Vec3
	n       int     // sights taken in a row, capped
	age     float64 // s since the last sight that was believed
	missed  int     // sights in a row that were not believed
	noise   float64 // m: running mean of what sights were off the prediction
}

const (
	// A sight that lies gateRatio times further off the prediction than usual,
	// and gateLeast metres and gateReach m/s² besides, is not believed …
	gateRatio, gateLeast = 6, 0.15
	// … unless gateTries come in a row: then the point has really moved there.
	gateTries = 3
	// forgetAfter is the gap, s, after which a filter starts anew.
	forgetAfter = 0.25
)

// known reports whether position and velocity can be read.
func (f *filter) known() bool { return f.n >= 3 && f.age < 0.1 }

// step moves the filter on by dt seconds with a sight z, or without one.
func (f *filter) step(dt float64, z geom.Vec3, seen bool) {
	f.age += dt
	if f.n > 0 && f.age > forgetAfter {
		*f = filter{memory: f.memory}
	}
	if f.n == 0 {
		if seen {
			*f = filter{memory: f.memory, x: z, n: 1, noise: gateLeast / gateRatio}
		}
		return
	}
	f.predict(dt)
	if !seen {
		return
	}
	off := z.Sub(f.x)
	if f.n >= 3 && off.Norm() > math.Max(gateLeast, gateRatio*f.noise) {
		if f.missed++; f.missed < gateTries {
			return
		}
		*f = filter{memory: f.memory, x: z, n: 1, noise: f.noise}
		return
	}
	f.correct(dt, off)
}

func (f *filter) predict(dt float64) {
	f.x = f.x.Add(f.v.Scale(dt)).Add(f.a.Scale(dt * dt / 2))
	f.v = f.v.Add(f.a.Scale(dt))
}

// correct takes in what a sight was off the prediction.
func (f *filter) correct(dt float64, off geom.Vec3) {
	theta := math.Exp(-dt / f.memory)
	if grow := float64(f.n) / float64(f.n+2); grow < theta {
		theta = grow
	}
	d := 1 - theta
	alpha, beta, gamma := 1-theta*theta*theta, 1.5*d*d*(1+theta), d*d*d
	if f.n == 1 {
		alpha, beta, gamma = 1, 1, 0
	}
	dt = math.Max(dt, 1e-4)
	f.x = f.x.Add(off.Scale(alpha))
	f.v = f.v.Add(off.Scale(beta / dt))
	f.a = f.a.Add(off.Scale(gamma / (dt * dt)))
	f.noise += (off.Norm() - f.noise) * 0.05
	f.n, f.age, f.missed = min(f.n+1, 1000), 0, 0
}

// scale changes the unit of length: what was one is by of the new.
func (f *filter) scale(by float64) {
	f.x, f.v, f.a = f.x.Scale(by), f.v.Scale(by), f.a.Scale(by)
	f.noise *= by
}
