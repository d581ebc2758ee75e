package k8s

import (
	"encoding/json"
	"log/slog"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/common/model"
	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/model/rulefmt"
	"github.com/prometheus/prometheus/promql/parser"
)

// listed returns the names in metrics.md: each instrument with its name in
// Prometheus, its kind and unit, and the names that come from libraries.
func listed(t *testing.T) (own []instrument, names map[string]bool) {
	t.Helper()
	names = map[string]bool{}
	ours := regexp.MustCompile("^\\| `(courtkin[a-z.]+)` \\| `([a-z_]+)` \\| ([a-z-]+(?: counter)?) \\| `([^`]+)` \\| (.*) \\| .* \\|$")
	theirs := regexp.MustCompile("^\\| `([a-z_]+)` \\| [^|]*\\|$")
	for _, line := range strings.Split(string(read(t, "metrics.md")), "\n") {
		if m := ours.FindStringSubmatch(line); m != nil {
			i := instrument{name: m[1], exported: m[2], kind: m[3], unit: m[4]}
			for _, l := range strings.Split(m[5], ",") {
				i.labels = append(i.labels, strings.Trim(strings.TrimSpace(l), "`"))
			}
			own = append(own, i)
			names[i.exported] = true
		} else if m := theirs.FindStringSubmatch(line); m != nil && !strings.Contains(m[1], "label") {
			names[m[1]] = true
		}
	}
	if len(own) < 10 {
		t.Fatalf("read only %d instruments from metrics.md", len(own))
	}
	return own, names
}

type instrument struct {
	name, exported, kind, unit string
	labels                     []string
}

// TestExportedNames holds the second column to what OpenTelemetry's Prometheus
// exporter makes of the first (OpenTelemetry specification, "Prometheus and
// OpenMetrics compatibility": units in braces are dropped, s becomes seconds,
// 1 becomes ratio on gauges, counters end in _total).
func TestExportedNames(t *testing.T) {
	own, _ := listed(t)
	for _, i := range own {
		want := strings.ReplaceAll(i.name, ".", "_")
		switch {
		case i.unit == "s":
			want += "_seconds"
		case i.unit == "1" && i.kind == "gauge":
			want += "_ratio"
		}
		if i.kind == "counter" {
			want += "_total"
		}
		if i.exported != want {
			t.Errorf("%s: %s, want %s", i.name, i.exported, want)
		}
	}
}

// uses checks an expression: it parses, and every series in it is listed,
// with labels that the instrument has. Recorded sums count as listed.
func uses(t *testing.T, where, expr string, recorded map[string]bool) {
	t.Helper()
	own, names := listed(t)
	parsed, err := parser.NewParser(parser.Options{}).ParseExpr(expr)
	if err != nil {
		t.Errorf("%s: %v", where, err)
		return
	}
	parser.Inspect(parsed, func(n parser.Node, _ []parser.Node) error {
		switch n := n.(type) {
		case *parser.VectorSelector:
			if !names[histogramOf(n.Name)] && !recorded[n.Name] {
				t.Errorf("%s: %s is not in metrics.md", where, n.Name)
			}
			for _, m := range n.LabelMatchers {
				if !known(own, n.Name, m.Name) {
					t.Errorf("%s: %s has no label %s", where, n.Name, m.Name)
				}
			}
		case *parser.AggregateExpr:
			for _, label := range n.Grouping {
				if !known(own, below(n), label) {
					t.Errorf("%s: %s has no label %s", where, below(n), label)
				}
			}
		}
		return nil
	})
}

// below returns the name of the series that an aggregation is over.
func below(n parser.Node) (name string) {
	parser.Inspect(n, func(n parser.Node, _ []parser.Node) error {
		if s, ok := n.(*parser.VectorSelector); ok {
			name = s.Name
		}
		return nil
	})
	return name
}

// histogramOf returns the instrument behind a histogram's series.
func histogramOf(name string) string {
	for _, suffix := range []string{"_bucket", "_sum", "_count"} {
		if base, ok := strings.CutSuffix(name, suffix); ok {
			return base
		}
	}
	return name
}

// known reports whether a series has a label.
func known(own []instrument, series, label string) bool {
	if slices.Contains([]string{labels.MetricName, "job", "instance", "le"}, label) {
		return true
	}
	return slices.ContainsFunc(own, func(i instrument) bool {
		return i.exported == histogramOf(series) && slices.Contains(i.labels, label)
	})
}

func TestRules(t *testing.T) {
	groups, errs := rulefmt.ParseFile(filepath.Join(deploy, "prometheus/rules.yaml"), false, model.UTF8Validation, parser.NewParser(parser.Options{}), slog.New(slog.DiscardHandler))
	for _, err := range errs {
		t.Error(err)
	}
	if groups == nil {
		t.FailNow()
	}
	recorded := map[string]bool{}
	for _, g := range groups.Groups {
		for _, r := range g.Rules {
			if r.Record != "" {
				recorded[r.Record] = true
			}
		}
	}
	for _, g := range groups.Groups {
		for _, r := range g.Rules {
			uses(t, r.Record+r.Alert, r.Expr, recorded)
			if r.Alert != "" && (r.Labels["severity"] == "" || r.Annotations["summary"] == "" || r.Annotations["description"] == "") {
				t.Errorf("%s: no severity, summary or description", r.Alert)
			}
		}
	}
}

func TestDashboard(t *testing.T) {
	var board struct {
		Panels []struct {
			Type, Title string
			Targets     []struct{ Expr string }
		}
	}
	if err := json.Unmarshal(read(t, "grafana/courtkin.json"), &board); err != nil {
		t.Fatal(err)
	}
	shown := map[string]bool{}
	for _, p := range board.Panels {
		if p.Type != "row" && len(p.Targets) == 0 {
			t.Errorf("%s: shows nothing", p.Title)
		}
		for _, target := range p.Targets {
			uses(t, p.Title, target.Expr, nil)
			shown[target.Expr] = true
		}
	}
	own, _ := listed(t)
	for _, i := range own {
		if !shows(shown, i.exported) {
			t.Errorf("%s is on no panel", i.exported)
		}
	}
}

// shows reports whether a name occurs in one of the expressions.
func shows(exprs map[string]bool, name string) bool {
	for e := range exprs {
		if strings.Contains(e, name) {
			return true
		}
	}
	return false
}
