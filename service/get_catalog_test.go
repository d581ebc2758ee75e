package service

import (
	"strings"
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// TestCatalogIsComplete: whatever the service can return is defined, with its source.
func TestCatalogIsComplete(t *testing.T) {
	res, err := dial(t, Config{}).GetCatalog(within(t), &pb.GetCatalogRequest{})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Measures) < 58 || len(res.Events) != len(pb.EventKind_name)-1 || len(res.Cues) < 10 {
		t.Errorf("%d measures, %d events, %d cues", len(res.Measures), len(res.Events), len(res.Cues))
	}
	seen := map[string]bool{}
	for _, m := range res.Measures {
		if m.Title == "" || m.Definition == "" || m.Unit == "" || m.Source == "" || m.PromisedSd <= 0 || len(m.Strokes) == 0 || seen[m.Name] {
			t.Errorf("measure %v", m)
		}
		seen[m.Name] = true
	}
	for _, e := range res.Events {
		if e.Title == "" || e.Definition == "" || e.Source == "" || len(e.Strokes) == 0 {
			t.Errorf("event %v", e)
		}
	}
	for _, c := range res.Cues {
		if c.Kind == 0 || c.Text == "" || c.Source == "" || seen[c.Name] {
			t.Errorf("cue %v", c)
		}
		seen[c.Name] = true
	}
}

func TestCatalogSpeaksTheLanguage(t *testing.T) {
	client := dial(t, Config{})
	texts := map[string]string{}
	for _, locale := range []string{"en", "de"} {
		res, err := client.GetCatalog(within(t), &pb.GetCatalogRequest{Locale: locale})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range res.Cues {
			texts[locale] += c.Text
		}
	}
	if texts["en"] == texts["de"] || !strings.ContainsAny(texts["de"], "äöüß") {
		t.Error("the cues are not in German")
	}
}
