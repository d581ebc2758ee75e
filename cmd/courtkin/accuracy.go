package main

import (
	"context"
	"fmt"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/trial"
)

type accuracyCmd struct {
	Condition string `enum:"W,T,P,I,B,S" default:"W" help:"Capture: W 3-D, T two cameras, P phone, I image only, B body only, S slow motion."`
	Swings    int    `default:"100" help:"How many strokes to make."`
	Seed      uint64 `default:"1" help:"Other seeds are other players and other noise."`
}

// Run makes swings with known answers, has them analysed, and prints errors
// and coverage beside what is promised.
func (cmd *accuracyCmd) Run(ctx context.Context, c *console) error {
	if cmd.Swings < 1 || cmd.Swings > 1_000_000 {
		return usage("--swings %d: must be 1 to 1000000", cmd.Swings)
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
