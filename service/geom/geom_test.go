package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if d := math.Abs(got - want); !(d <= tol) {
		t.Errorf("%s = %.12g, want %.12g ± %g", what, got, want, tol)
	}
}

func nearMat(t *testing.T, what string, got, want Mat3, tol float64) {
	t.Helper()
	for i := range got {
		if d := math.Abs(got[i] - want[i]); !(d <= tol) {
			t.Fatalf("%s = %v, want %v", what, got, want)
		}
	}
}

func someVec(rng *rand.Rand) Vec3 {
	return Vec3{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
}

func TestWrapped(t *testing.T) {
	for _, c := range []struct{ in, want float64 }{
		{0, 0}, {180, 180}, {-180, 180}, {181, -179}, {-181, 179}, {540, 180}, {720.5, 0.5}, {-359, 1},
	} {
		near(t, "wrapped", (Angle(c.in) * Deg).Wrapped().Degrees(), c.want, 1e-10)
	}
}

func TestBetween(t *testing.T) {
	x := Vec3{1, 0, 0}
	for _, c := range []struct {
		b    Vec3
		want float64
		why  string
	}{
		{Vec3{0, 5, 0}, 90, "square"},
		{Vec3{-2, 0, 0}, 180, "opposed"},
		{Vec3{3, 0, 0}, 0, "aligned"},
		{Vec3{1, 1, 0}, 45, "diagonal"},
		{Vec3{}, 0, "zero vector"},
		{Vec3{1, 1e-9, 0}, 1e-9 * 180 / math.Pi, "tiny: acos would give 0"},
	} {
		near(t, c.why, Between(x, c.b).Degrees(), c.want, 1e-13)
	}
}

func TestRotation(t *testing.T) {
	quarter := RotationAbout(Vec3{0, 1, 0}, 90*Deg)
	got := quarter.Apply(Vec3{0, 0, 1})
	near(t, "Z turned to X about Y", got.Sub(Vec3{1, 0, 0}).Norm(), 0, 1e-15)

	rng := rand.New(rand.NewPCG(1, 1))
	for range 50 {
		axis, turn := someVec(rng).Unit(), Angle(rng.Float64()*6)
		r := RotationAbout(axis, turn)
		nearMat(t, "R·Rᵀ", r.Mul(r.T()), Identity3, 1e-14)
		near(t, "det R", r.Det(), 1, 1e-14)
		near(t, "axis stays", r.Apply(axis).Sub(axis).Norm(), 0, 1e-14)
		near(t, "trace", r[0]+r[4]+r[8], 1+2*math.Cos(turn.Radians()), 1e-14)
	}
}

func TestInverse(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	for range 50 {
		m := Rows(someVec(rng), someVec(rng), someVec(rng))
		inv, ok := m.Inverse()
		if !ok {
			t.Fatalf("%v has no inverse", m)
		}
		nearMat(t, "m·m⁻¹", m.Mul(inv), Identity3, 1e-10)
	}
	if _, ok := (Mat3{1, 2, 3, 2, 4, 6, 0, 0, 1}).Inverse(); ok {
		t.Error("a singular matrix was inverted")
	}
	near(t, "det", Mat3{2, 0, 0, 0, 3, 0, 1, 1, 4}.Det(), 24, 0)
	nearMat(t, "2·I + I", Identity3.Scale(2).Add(Identity3), Mat3{3, 0, 0, 0, 3, 0, 0, 0, 3}, 0)
}

func TestVec(t *testing.T) {
	a, b := Vec3{1, 2, 3}, Vec3{-2, 0.5, 4}
	near(t, "a × b ⟂ a", a.Cross(b).Dot(a), 0, 1e-15)
	near(t, "Lagrange", a.Cross(b).Dot(a.Cross(b)), a.Dot(a)*b.Dot(b)-a.Dot(b)*a.Dot(b), 1e-12)
	near(t, "unit", b.Unit().Norm(), 1, 1e-15)
	near(t, "unit of zero", Vec3{}.Unit().Norm(), 0, 0)
	near(t, "halfway", a.Lerp(b, .5).Sub(a.Add(b).Scale(.5)).Norm(), 0, 1e-15)
	near(t, "mirrored twice", a.MirrorZ().MirrorZ().Sub(a).Norm(), 0, 0)
	near(t, "flat", a.Flat().Y, 0, 0)
	for _, c := range []struct {
		v    Vec3
		want bool
	}{
		{a, true},
		{Vec3{math.NaN(), 0, 0}, false},
		{Vec3{0, math.Inf(1), 0}, false},
		{Vec3{0, 0, math.Inf(-1)}, false},
		{Vec3{math.Inf(1), math.Inf(-1), 0}, false},
	} {
		if got := c.v.Finite(); got != c.want {
			t.Errorf("%v finite: %v", c.v, got)
		}
	}
}
