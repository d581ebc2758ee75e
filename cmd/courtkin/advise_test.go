package main

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/types/known/durationpb"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// rigRequest asks for the next ball while the first frames of a made clip are
// the newest: the player waits.
func rigRequest(t *testing.T) *pb.AdviseFeedRequest {
	t.Helper()
	clip := forehand(t)
	clip.Setup.Player = &pb.Player{DominantHand: pb.Hand_HAND_RIGHT}
	seconds := func(s int64) *durationpb.Duration { return &durationpb.Duration{Seconds: s} }
	return &pb.AdviseFeedRequest{
		Least: &pb.Feed{SpeedMps: 10, LateralM: -2, DepthM: 1, HeightM: 0.3, TopspinRps: -20, Interval: seconds(3)},
		Most:  &pb.Feed{SpeedMps: 30, LateralM: 2, DepthM: 6, HeightM: 2, TopspinRps: 40, Interval: seconds(10)},
		Now:   clip.Frames[:60], Setup: clip.Setup, Player: clip.Setup.Player,
	}
}

// TestAdvise: the answer for a person and as JSON; the caution is always there.
func TestAdvise(t *testing.T) {
	name := file(t, "ask.json", jsonOf(t, rigRequest(t)))
	o := try(t, "", "advise", name)
	res := &pb.AdviseFeedResponse{}
	j := try(t, "", "advise", "--json", name)
	if err := protojson.Unmarshal([]byte(j.out), res); err != nil || j.status != 0 {
		t.Fatalf("%v %+v", err, j)
	}
	if o.status != 0 || !strings.HasPrefix(o.out, spaced(res.Action.String(), "FEED_ACTION_")+": "+res.Reason) || !strings.Contains(o.out, "\ncaution: ") {
		t.Errorf("%+v", o)
	}
	if (res.Action == pb.FeedAction_FEED_ACTION_FEED) != strings.Contains(o.out, "next ball: ") {
		t.Errorf("%+v", o)
	}
	over := `{"feedsSoFar":100000}`
	if o := try(t, over, "advise", "-"); o.status != 0 || !strings.HasPrefix(o.out, "stop: ") || strings.Count(o.out, "caution: ") != 2 {
		t.Errorf("too many balls: %+v", o)
	}
	if o := try(t, over, "advise", "--locale", "de", "-"); !strings.Contains(o.out, "genug Bälle") {
		t.Errorf("de: %+v", o)
	}
	for _, c := range []struct {
		in     string
		args   []string
		status int
		says   string
	}{
		{"", []string{"advise"}, exitUsage, "file"},
		{"", []string{"advise", "nowhere.json"}, exitFailure, "nowhere.json: no such file"},
		{`{"most":{"speedMps":-3}}`, []string{"advise", "-"}, exitFailure, "most.speed_mps"},
		{`{"feeds":1}`, []string{"advise", "-"}, exitFailure, "feeds"},
		{"", []string{"advise", "-"}, exitFailure, "-: "},
	} {
		if o := try(t, c.in, c.args...); o.status != c.status || !strings.Contains(o.err, c.says) || strings.Count(o.err, "\n") != 1 {
			t.Errorf("%v %s: %+v", c.args, c.in, o)
		}
	}
}
