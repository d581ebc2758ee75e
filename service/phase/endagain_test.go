package phase

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
)

// Where the tip comes back to speed after it fell under the threshold, the fall may
// have been a dip; where it only walks on, it was the end.
func TestEndAgain(t *testing.T) {
	for _, tt := range []struct {
		name  string
		back  float64 // share of the speed at contact to which the tip rises after FOLLOW_END
		until float64 // s after FOLLOW_END, when it falls again
		dips  bool
	}{
		{"the racket comes to rest", 0.1, 9, false},
		{"a walk", 0.24, 9, false},
		{"a rise that falls again", 0.5, 0.1, true},
		{"a rise to the course's end", 0.5, 9, true},
	} {
		c := madeForehand().course()
		var k Curves
		k.Read(c, Context{Stroke: body.Forehand})
		end := k.Locate()[FollowEnd]
		before := k.TipSpeed[c.Break]
		for i, at := range k.t {
			if at > end+0.03 && at < end+0.03+tt.until {
				k.TipSpeed[i] = tt.back * before
			} else if at > end+0.03 {
				k.TipSpeed[i] = 0
			}
		}
		next, dips := k.EndAgain(end)
		want := end
		if tt.dips {
			want = math.Min(end+0.03+tt.until, k.t[len(k.t)-1])
		}
		if dips != tt.dips || math.Abs(next-want) > 0.01 {
			t.Errorf("%s: next %.3f dips %v, want %.3f %v", tt.name, next, dips, want, tt.dips)
		}
	}
	var k Curves
	if _, dips := k.EndAgain(math.NaN()); dips {
		t.Error("no end dips")
	}
}
