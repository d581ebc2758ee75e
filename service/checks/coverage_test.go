package checks

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// numbers is how many published numbers the golden table has: G01 … G50.
const numbers = 50

// checkedAs lists numbers whose checks bear other names than the number's own: rows, or
// entries of elsewhere.
var checkedAs = map[string][]string{
	"G19": {"rec G19"},
	"G20": {"ISB elbow 104", "ISB trunk 42"},
	"G29": {"G28", "G29"},
	"G30": {"G31 k"},
	"G31": {"G31 k", "G31 loss"},
	"G32": {"G32 order", "G32 T", "G32 I"},
	"G46": {"TestPublishedDLT"},
	"G48": {"TestScaledOrthography"},
}

// unchecked lists published numbers, or parts of them, that nothing here answers to.
var unchecked = []struct{ what, why string }{
	{"G17 face angle", "the service reports no such figure"},
	{"G22 step-and-reach times of the split step", "a drill of a laboratory, with a signal to react to: the service reports no such figure"},
	{"G19 angular speeds in the serve, G20 external rotation and abduction of the serving shoulder", "the service reports no such figure; the order of the serve's peaks, the cocked elbow and the trunk at impact are checked"},
	{"G12 to G15 against one another", "careful studies differ by a factor of two in racket speed: a swing is built to each and measured back, and no speed is promised as normal"},
	{"G24 mass and diameter, G25 width of the strung area", "no such constant in the service; the rebound is G26, and the drag of G31 has both in it"},
	{"G33, G34 errors of markerless systems", "noise is learned from each clip, not assumed; what a bias of joint centres does to a turn is no fault that the service could see"},
	{"G47 in the service", "the service weighs nobody: the table is held as copied"},
	{"Yu's cut-off equations, fractions of stature beyond those of made bodies, de Leva's lengths", "not used"},
}

func uncheckedList() string {
	var b strings.Builder
	b.WriteString("\n## Published, not checked here\n\n| number | why |\n|---|---|\n")
	for _, u := range unchecked {
		fmt.Fprintf(&b, "| %s | %s |\n", u.what, u.why)
	}
	return b.String()
}

// TestEveryNumber: each published number of the golden table has a check, by its name or
// by one that is listed, or a reason why it has none.
func TestEveryNumber(t *testing.T) {
	var names []string
	for _, s := range sections() {
		for _, r := range s.rows {
			names = append(names, r.id)
		}
	}
	for _, e := range elsewhere {
		names = append(names, e.test, strings.Fields(e.what)[0])
	}
	has := func(name string) bool {
		return slices.ContainsFunc(names, func(n string) bool { return n == name || strings.HasPrefix(n, name+" ") })
	}
	for i := 1; i <= numbers; i++ {
		id := fmt.Sprintf("G%02d", i)
		for _, name := range checkedAs[id] {
			if !has(name) {
				t.Errorf("%s is said to be checked by %s, which there is not", id, name)
			}
		}
		excused := slices.ContainsFunc(unchecked, func(u struct{ what, why string }) bool { return strings.Contains(u.what, id) })
		if !has(id) && len(checkedAs[id]) == 0 && !excused {
			t.Errorf("nothing checks %s, and nothing says why", id)
		}
	}
}
