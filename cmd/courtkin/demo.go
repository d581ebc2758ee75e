package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"text/tabwriter"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

type demoCmd struct {
	Condition string `enum:"W,T,P,I,B,S" default:"W" help:"Capture: W 3-D, T two cameras, P phone, I image only, B body only, S slow motion."`
	Seed      uint64 `default:"7" help:"Another seed is another player."`
	All       bool   `help:"Print every swing in full, not the first alone."`
	JSON      bool   `name:"json" help:"Print the answer as JSON."`
	Out       string `type:"path" help:"Also write the made clip as newline-delimited JSON, for courtkin analyze."`
}

// scenario is the practice of the demo: an evening on court, invented.
const scenario = `An evening practice, made up: a club player warms up from the baseline, walks
to pick up a ball, rallies on, and ends with two serves. Every motion is computed,
so the true answers are known; noise, lost points and swapped sides are put on top
as a camera and a pose estimator would.
`

var scenarioStrokes = []body.Stroke{
	body.Forehand, body.Forehand, body.TwoHandedBackhand, body.Forehand, body.SliceBackhand, body.TwoHandedBackhand,
	body.Serve, body.Serve,
}

// Run makes the practice, analyses it and prints what was found beside the truth.
func (cmd *demoCmd) Run(ctx context.Context, c *console) error {
	srv, err := newService()
	if err != nil {
		return err
	}
	clip := cmd.shoot()
	req := clipRequest(&clip)
	if cmd.Out != "" {
		if err := writeLines(cmd.Out, req); err != nil {
			return err
		}
	}
	res, err := srv.Analyze(ctx, req, func(int) {})
	if err != nil {
		return err
	}
	if cmd.JSON {
		return printJSON(c.out, res)
	}
	fmt.Fprintf(c.out, "%s\n", scenario)
	if err := printAgainstTruth(c, &clip, res); err != nil {
		return err
	}
	fmt.Fprintln(c.out)
	if !cmd.All && len(res.Swings) > 1 {
		res.Swings = res.Swings[:1]
	}
	return printClip(c.out, "in full", req, res, false)
}

func (cmd *demoCmd) shoot() synth.Clip {
	m := synth.NewPractice(synth.Practice{
		Spec:    synth.Spec{Level: body.Intermediate, Hand: body.RightHanded, Seed: cmd.Seed},
		Strokes: scenarioStrokes,
	})
	return synth.Shoot(m, synth.Condition(cmd.Condition[0]), synth.View{Layout: synth.COCO17}, cmd.Seed)
}

// clipRequest is a made clip as a client would send it.
func clipRequest(clip *synth.Clip) *pb.AnalyzeClipRequest {
	layout := body.COCO17
	req := &pb.AnalyzeClipRequest{Setup: wire.AsSetup(&clip.Setup, pb.PointLayout_POINT_LAYOUT_COCO_17)}
	for i := range clip.Frames {
		req.Frames = append(req.Frames, wire.AsFrame(&clip.Frames[i], layout))
	}
	return req
}

// writeLines writes a request as newline-delimited JSON: the setup, then a frame a line.
func writeLines(name string, req *pb.AnalyzeClipRequest) error {
	out, err := protojson.Marshal(req.Setup)
	if err != nil {
		return err
	}
	for _, f := range req.Frames {
		if out, err = (protojson.MarshalOptions{}).MarshalAppend(append(out, '\n'), f); err != nil {
			return err
		}
	}
	return os.WriteFile(name, append(out, '\n'), 0o644)
}

// printAgainstTruth prints each true stroke with what was found of it.
func printAgainstTruth(c *console, clip *synth.Clip, res *pb.AnalyzeClipResponse) error {
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "made\tfound\tcontact s\tfound ± ms\ttip m/s\tfound ±\tlag °\tfound ±")
	for i := range clip.Truth {
		t := &clip.Truth[i]
		s, ok := nearest(clip, res.Swings, t.Contact)
		if !ok {
			fmt.Fprintf(w, "%s\tnot found\t%.3f\n", t.Stroke, t.Contact)
			continue
		}
		e, _ := eventOf(s, pb.EventKind(phase.Contact))
		fmt.Fprintf(w, "%s\t%s\t%.3f\t%.3f ± %.1f\t%s\t%s\t%s\t%s\n",
			t.Stroke, spaced(s.Stroke.String(), "STROKE_"),
			t.Contact, clip.Real(float64(e.TimeUs)), float64(e.SdUs)/1e3/clip.Stretch,
			truthOf(t, "racket_speed.tip.contact"), foundOf(s, "racket_speed.tip.contact"),
			truthOf(t, "lag.max"), foundOf(s, "lag.max"))
	}
	fmt.Fprintf(w, "%s found, %d made\n", counted(len(res.Swings), "swing"), len(clip.Truth))
	return w.Flush()
}

// nearest returns the swing whose contact is nearest to a true one, within 0.3 s.
func nearest(clip *synth.Clip, swings []*pb.Swing, contact float64) (*pb.Swing, bool) {
	var best *pb.Swing
	within := 0.3
	for _, s := range swings {
		e, ok := eventOf(s, pb.EventKind(phase.Contact))
		if d := math.Abs(clip.Real(float64(e.GetTimeUs())) - contact); ok && d < within {
			best, within = s, d
		}
	}
	return best, best != nil
}

func eventOf(s *pb.Swing, kind pb.EventKind) (*pb.Event, bool) {
	for _, e := range s.Events {
		if e.Kind == kind {
			return e, true
		}
	}
	return nil, false
}

func truthOf(t *synth.TrueSwing, name string) string {
	if v, ok := t.Measures[name]; ok {
		return fmt.Sprintf("%.1f", v)
	}
	return "–"
}

func foundOf(s *pb.Swing, name string) string {
	for _, m := range s.Measures {
		if m.Name == name && m.Value != nil {
			return fmt.Sprintf("%.1f ± %.1f", m.GetValue(), m.GetSd())
		}
	}
	return "–"
}
