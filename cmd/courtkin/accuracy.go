package main

import (
	"context"
	"fmt"
	"math"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/trial"
)

type accuracyCmd struct {
	Condition string `enum:"W,T,P,I,B,S" default:"W" help:"Capture: W 3-D, T two cameras, P phone, I image only, B body only, S slow motion."`
	Swings    int    `default:"100" help:"How many strokes to make."`
	Seed      uint64 `default:"1" help:"Other seeds are other players and other noise."`
	Live      bool   `help:"Score the provisional events of the live depth instead: error and delay."`
}

// Run makes swings with known answers, has them analysed, and prints errors
// and coverage beside what is promised.
func (cmd *accuracyCmd) Run(ctx context.Context, c *console) error {
	if cmd.Swings < 1 || cmd.Swings > 1_000_000 {
		return usage("--swings %d: must be 1 to 1000000", cmd.Swings)
	}
	if cmd.Live {
		return cmd.live(ctx, c)
	}
	report := trial.Run(synth.Condition(cmd.Condition[0]), cmd.Swings, cmd.Seed, func(clip synth.Clip) ([]*measure.Sheet, error) {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return analyseMade(clip)
	})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	_, err := fmt.Fprint(c.out, report.Table())
	return err
}

// live prints how the provisional events fare.
func (cmd *accuracyCmd) live(ctx context.Context, c *console) error {
	report, err := trial.RunLive(synth.Condition(cmd.Condition[0]), cmd.Swings, cmd.Seed, func(clip synth.Clip) ([]trial.Called, error) {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return listenTo(clip)
	})
	if err != nil {
		return err
	}
	_, err = fmt.Fprint(c.out, report.Table())
	return err
}

// listenTo plays a made clip and notes what is called, and when.
func listenTo(clip synth.Clip) ([]trial.Called, error) {
	m, err := swing.New(clip.Setup)
	if err != nil {
		return nil, err
	}
	to := &listener{clip: &clip}
	for i := range clip.Frames {
		if clip.Frames[i].Camera == 0 {
			to.now = clip.Real(float64(clip.Frames[i].TimeUS))
		}
		if err := m.Push(&clip.Frames[i], to); err != nil {
			return nil, err
		}
	}
	m.Finish(to)
	return to.calls, nil
}

// listener is a sink that keeps provisional events alone.
type listener struct {
	clip  *synth.Clip
	now   float64
	calls []trial.Called
}

// Event notes a call, or that one was withdrawn.
func (l *listener) Event(e swing.LiveEvent) {
	if !e.Withdrawn {
		l.calls = append(l.calls, trial.Called{Kind: e.Kind, At: l.clip.Real(float64(e.TimeUS)),
			SD: float64(e.SDUS) * 1e-6 / l.clip.Stretch, Heard: l.now, TakenBy: math.NaN()})
		return
	}
	at := l.clip.Real(float64(e.TimeUS))
	for i := len(l.calls) - 1; i >= 0; i-- {
		if c := &l.calls[i]; c.Kind == e.Kind && c.At == at && math.IsNaN(c.TakenBy) {
			c.TakenBy = l.now
			return
		}
	}
}

func (*listener) Swing(*measure.Sheet)    {}
func (*listener) Reading(swing.Reading)   {}
func (*listener) Warning(measure.Warning) {}
func (*listener) Progress(swing.Progress) {}

// analyseMade runs a made clip through the machine.
func analyseMade(clip synth.Clip) ([]*measure.Sheet, error) {
	m, err := swing.New(clip.Setup)
	if err != nil {
		return nil, err
	}
	var found sheets
	for i := range clip.Frames {
		if err := m.Push(&clip.Frames[i], &found); err != nil {
			return nil, err
		}
	}
	m.Finish(&found)
	return found, nil
}

// sheets is a sink that keeps settled swings alone.
type sheets []*measure.Sheet

func (*sheets) Event(swing.LiveEvent)   {}
func (*sheets) Reading(swing.Reading)   {}
func (*sheets) Warning(measure.Warning) {}
func (*sheets) Progress(swing.Progress) {}

// Swing keeps a swing.
func (s *sheets) Swing(sheet *measure.Sheet) { *s = append(*s, sheet) }
