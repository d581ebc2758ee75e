package trial_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/trial"
)

// oracle answers with the truth, off by normal errors of the sds it states.
type oracle struct {
	eventSD, share float64 // s; share of each value
	says           float64 // stated sd ÷ true sd
	rnd            *rand.Rand
}

func (o oracle) analyse(c synth.Clip) ([]*measure.Sheet, error) {
	var out []*measure.Sheet
	for _, t := range c.Truth {
		s := &measure.Sheet{Stroke: t.Stroke, Hand: t.Hand, StartUS: c.Zero}
		for k, at := range t.Events {
			if math.IsNaN(at) || k == 0 {
				continue
			}
			err := o.eventSD * o.rnd.NormFloat64()
			s.Events = append(s.Events, phase.Event{Kind: phase.EventKind(k), Time: (at + err) * c.Stretch, SD: o.says * o.eventSD * c.Stretch})
		}
		for name, v := range t.Measures {
			sd := o.share*math.Abs(v) + 1e-9
			got, say := v+sd*o.rnd.NormFloat64(), o.says*sd
			s.Figures = append(s.Figures, measure.Figure{Name: name, Value: got, SD: say, Low: got - 1.96*say, High: got + 1.96*say, Grade: measure.Good})
		}
		out = append(out, s)
	}
	return out, nil
}

func run(t *testing.T, c synth.Condition, o oracle) *trial.Report {
	t.Helper()
	o.rnd = rand.New(rand.NewPCG(1, 2))
	return trial.Run(c, 8, 3, o.analyse)
}

func TestHonestErrorsAreCovered(t *testing.T) {
	for _, c := range []synth.Condition{synth.World, synth.SlowMotion} {
		r := run(t, c, oracle{eventSD: 0.002, share: 0.01, says: 1})
		if r.Found != r.True || r.Extra != 0 || r.Named != r.True || r.True < 8 {
			t.Errorf("%c: found %d of %d, extra %d, named %d", c, r.Found, r.True, r.Extra, r.Named)
		}
		covered, lies := r.MeasureCoverage()
		if covered < 91 || covered > 98.5 || lies > 0.5 {
			t.Errorf("%c: measures covered %.1f %%, lies %.2f %%", c, covered, lies)
		}
		// the median of |N(0, 2 ms)| is 0.674 · 2 ms
		if m := r.Events[phase.Contact].Median(); m < 0.6 || m > 2.4 {
			t.Errorf("%c: contact error %.2f ms, want about 1.35", c, m)
		}
	}
}

func TestBoldErrorsAreLies(t *testing.T) {
	r := run(t, synth.World, oracle{eventSD: 0.004, share: 0.02, says: 0.1})
	if covered, lies := r.MeasureCoverage(); covered > 40 || lies < 40 {
		t.Errorf("covered %.1f %%, lies %.1f %%", covered, lies)
	}
}

func TestMissedInventedAndRefused(t *testing.T) {
	o := oracle{eventSD: 0.001, share: 0.001, says: 1, rnd: rand.New(rand.NewPCG(1, 2))}
	r := trial.Run(synth.World, 8, 5, func(c synth.Clip) ([]*measure.Sheet, error) {
		sheets, _ := o.analyse(c)
		ghost := &measure.Sheet{Stroke: body.Serve, StartUS: c.Zero, Events: []phase.Event{{Kind: phase.Contact, Time: c.Truth[0].Contact + 0.6, SD: 0.01}}}
		for i := range sheets[0].Figures {
			f := &sheets[0].Figures[i]
			if f.Name == "lag.max" {
				f.Grade, f.Reason = measure.NotMeasurable, "no racket"
			}
		}
		return append(sheets[1:], sheets[0], ghost), nil
	})
	if r.Extra != r.Clips {
		t.Errorf("%d invented, want %d", r.Extra, r.Clips)
	}
	if got := r.Measures["lag.max"].Refused; got == 0 || got > r.Clips {
		t.Errorf("%d refused", got)
	}
}

func TestTable(t *testing.T) {
	table := run(t, synth.Phone, oracle{eventSD: 0.002, share: 0.01, says: 1}).Table()
	for _, want := range []string{"condition P", "CONTACT", "racket_speed.tip.contact", "coverage, measures", "92–98%", "swings found"} {
		if !strings.Contains(table, want) {
			t.Errorf("table lacks %q:\n%s", want, table)
		}
	}
}

func TestSameSeedSameTrial(t *testing.T) {
	a := run(t, synth.BodyOnly, oracle{eventSD: 0.002, share: 0.01, says: 1})
	b := run(t, synth.BodyOnly, oracle{eventSD: 0.002, share: 0.01, says: 1})
	if a.True != b.True || a.Clips != b.Clips || math.Abs(a.Events[phase.Contact].Median()-b.Events[phase.Contact].Median()) > 1e-12 {
		t.Error("the same seed gives another trial")
	}
}
