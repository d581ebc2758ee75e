package main

import (
	"net/http"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/synth"
)

// phoneClip is a made clip of one forehand by one phone behind the player.
func phoneClip(t *testing.T) *pb.AnalyzeClipRequest {
	t.Helper()
	m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Level: body.Advanced, Hand: body.RightHanded, Seed: 11})
	clip := synth.Shoot(m, synth.Phone, synth.View{Layout: synth.COCO17, From: camera.ViewBehind, Distance: 7}, 11)
	return clipRequest(&clip)
}

// TestCheckPrintsTheOutlook as a table and as the service's own answer.
func TestCheckPrintsTheOutlook(t *testing.T) {
	if testing.Short() {
		t.Skip("arithmetic alone, for figures' sake: left to the plain run")
	}
	name := file(t, "clip.json", jsonOf(t, phoneClip(t)))
	table := try(t, "", "check", "--stroke", "forehand", name)
	for _, want := range []string{"seen from behind", "method one view", "camera 0:", "lag.max", "racket_speed.tip.contact", "not measurable\n"} {
		if !strings.Contains(table.out, want) {
			t.Errorf("no %q in %+v", want, table)
		}
	}
	o := try(t, "", "check", "--stroke", "forehand", "--json", name)
	res := &pb.CheckSetupResponse{}
	if err := protojson.Unmarshal([]byte(o.out), res); o.status != 0 || err != nil || len(res.Expected) != len(measure.Catalog()) {
		t.Errorf("%v %.300v", err, o)
	}
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{[]string{"check"}, 2, "file"},
		{[]string{"check", "--seconds", "0", name}, 2, "--seconds"},
		{[]string{"check", "nothing.json"}, 1, "nothing.json"},
		{[]string{"check", file(t, "empty.json", `{"setup":{"layout":"POINT_LAYOUT_COCO_17"}}`)}, 1, "no frames"},
		{[]string{"check", file(t, "none.json", `{"frames":[{"timeUs":"1"}]}`)}, 1, "setup"},
	} {
		if o := try(t, "", c.args...); o.status != c.status || !strings.Contains(o.err, c.says) {
			t.Errorf("%v: %+v", c.args, o)
		}
	}
}

// TestCheckOverREST: the route gives what the call gives, and names what is unfit.
func TestCheckOverREST(t *testing.T) {
	if testing.Short() {
		t.Skip("arithmetic alone, for figures' sake: left to the plain run")
	}
	addresses, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0")
	defer stop()
	url := addresses["HTTP"]
	clip := phoneClip(t)
	req := &pb.CheckSetupRequest{Setup: clip.Setup, Frames: beginning(clip.Frames, 1)}
	req.Setup.ExpectedStroke = pb.Stroke_STROKE_FOREHAND
	code, text := post(t, url+"/v1/setups:check", jsonOf(t, req))
	res := &pb.CheckSetupResponse{}
	if err := protojson.Unmarshal([]byte(text), res); err != nil || code != http.StatusOK {
		t.Fatalf("%d %v %.300s", code, err, text)
	}
	known := 0
	for _, m := range res.Expected {
		if m.Value != nil {
			t.Errorf("%s has a value", m.Name)
		}
		if m.Sd != nil {
			known++
		}
	}
	if known < 20 || res.Capture.GetMethod() != "one_view" {
		t.Errorf("%d figures by %s", known, res.Capture.GetMethod())
	}
	unfit := `{"setup":{"layout":"POINT_LAYOUT_COCO_17","cameras":[{"widthPx":1920,"heightPx":1080,"courtMarks":[` +
		`{"mark":1,"xPx":100,"yPx":800},{"mark":2,"xPx":300,"yPx":800},{"mark":3,"xPx":700,"yPx":800},{"mark":4,"xPx":1100,"yPx":800}]}]}}`
	if code, text := post(t, url+"/v1/setups:check", unfit); code != http.StatusBadRequest || !strings.Contains(text, "setup.cameras[0].court_marks") {
		t.Errorf("%d %s", code, text)
	}
}
