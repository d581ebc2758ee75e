package swing

import (
	"testing"

	"example.com/courtkin/service/camera"
)

// Between feeds a ball that turns gently is another; in the time of a feed, before
// any notice, and when it turns as a struck ball does, it is taken for what it seems.
func TestABallBetweenFeedsIsAnother(t *testing.T) {
	m, err := New(Setup{Axes: camera.AxesCourt})
	if err != nil {
		t.Fatal(err)
	}
	l := m.live
	for _, c := range []struct {
		nowUS int64
		feed  int64 // 0: none
		turn  float64
		stray bool
	}{
		{1_000_000, 0, 6, false},
		{9_000_000, 5_000_000, 6, true},
		{9_000_000, 5_000_000, 9, false},
		{7_000_000, 5_000_000, 6, false},
		{4_800_000, 5_000_000, 6, false}, // a notice a little ahead of the frames
		{4_000_000, 5_000_000, 6, true},
	} {
		l.us, l.feeds = c.nowUS, feeds{}
		if c.feed != 0 {
			m.Feed(c.feed)
		}
		if got := l.stray(c.turn); got != c.stray {
			t.Errorf("%+v: %v", c, got)
		}
	}
	l.feeds = feeds{}
	for i := range int64(10) {
		m.Feed(i * 1_000_000)
	}
	if l.us = 12_000_000; l.stray(6) {
		t.Error("the newest notice of many is forgotten")
	}
}
