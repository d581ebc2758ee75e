package checks

import (
	"testing"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// mark is a court mark by its number on the wire.
func mark(t *testing.T, n camera.Mark) geom.Vec3 {
	t.Helper()
	p, ok := n.Point()
	if !ok {
		t.Errorf("no court mark %d", n)
	}
	return p
}

// courtRows check the table of marks against the rules of the game.
func courtRows() []row {
	const rules = "ITF Rules of Tennis, rule 1, as copied on three court builders' pages"
	apart := func(id, quantity string, want float64, a, b camera.Mark) row {
		return row{id: id, quantity: quantity, unit: "m", want: want, tol: .005, source: rules, seen: readSecond,
			got: func(t *testing.T) float64 { return mark(t, a).Sub(mark(t, b)).Norm() }}
	}
	return []row{
		apart("G23 length", "court length", 23.77, 2, 19),
		apart("G23 singles", "singles width", 8.23, 2, 4),
		apart("G23 doubles", "doubles width", 10.97, 1, 5),
		apart("G23 service", "net to service line", 6.40, 11, 16),
		apart("G23 centre", "height of the net in the middle", .914, 11, 12),
		apart("G23 posts", "height of the net at the posts", 1.07, 9, 10),
		{id: "G23 post place", quantity: "post outside the doubles sideline", unit: "m", want: .914, tol: .005, source: rules, seen: readSecond,
			got: func(t *testing.T) float64 { return mark(t, 13).Z - mark(t, 5).Z }},
		apart("half court", "baseline to net", 11.885, 3, 11),
		apart("no man's land", "service line to baseline", 5.485, 7, 3),
		apart("alley", "width of the doubles alley", 1.37, 1, 2),
		{id: "diagonal", quantity: "diagonal of a singles half", unit: "m", want: 14.46, tol: .005, source: rules, seen: readSecond,
			got: func(t *testing.T) float64 {
				a, b := mark(t, 2), mark(t, 4)
				return geom.Vec3{X: mark(t, 11).X - a.X, Z: b.Z - a.Z}.Norm()
			}},
	}
}
