package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os/exec"
	"strings"
	"testing"

	"example.com/courtkin/proto"
)

// TestExamplesOfTheDocument pastes each request of the OpenAPI document into
// curl, as a reader would, and looks for what makes the answer useful.
func TestExamplesOfTheDocument(t *testing.T) {
	addresses, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0")
	defer stop()
	url := addresses["HTTP"]
	useful := map[string]string{
		"/v1/clips:analyze":       `"swings":`,
		"/v1/swings:compare":      "VERDICT_DIFFERENT",
		"/v1/practices:summarize": "4 × forehand",
		"/v1/feeds:advise":        "safety interlock",
		"/v1/setups:check":        "GRADE_ROUGH",
		"/v1/catalog":             "racket_speed.tip.contact",
	}
	examples := documented(t)
	for path, example := range examples {
		code, answer := pasted(t, url+path, example)
		if want, known := useful[path]; code != http.StatusOK || !known || !strings.Contains(answer, want) {
			t.Errorf("%s: %d %.500s", path, code, answer)
		}
	}
	if len(examples) != len(useful) {
		t.Errorf("%d routes in the document, %d known here", len(examples), len(useful))
	}
}

// documented returns the example of each route's request, empty for GET.
func documented(t *testing.T) map[string]string {
	t.Helper()
	var doc struct {
		Paths map[string]map[string]struct {
			Parameters []struct {
				Schema struct {
					Ref string `json:"$ref"`
				}
			}
		}
		Definitions map[string]struct{ Example json.RawMessage }
	}
	if err := json.Unmarshal(proto.OpenAPI, &doc); err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for path, verbs := range doc.Paths {
		out[path] = ""
		if post, ok := verbs["post"]; ok {
			of := doc.Definitions[strings.TrimPrefix(post.Parameters[0].Schema.Ref, "#/definitions/")]
			if len(of.Example) == 0 {
				t.Errorf("%s: no example", path)
			}
			out[path] = string(of.Example)
		}
	}
	return out
}

// pasted sends a body with curl, without one a GET; where there is no curl, it
// goes by Go's own client.
func pasted(t *testing.T, url, body string) (code int, answer string) {
	t.Helper()
	if _, err := exec.LookPath("curl"); err != nil {
		if body != "" {
			return post(t, url, body)
		}
		return get(t, url)
	}
	args := []string{"-sS", "--compressed", "--max-time", "60", "-w", "\n%{http_code}", url}
	if body != "" {
		args = append(args, "-H", "Content-Type: application/json", "-d", body)
	}
	said, err := exec.Command("curl", args...).CombinedOutput()
	if err != nil {
		t.Fatalf("curl %s: %v\n%s", url, err, said)
	}
	at := strings.LastIndexByte(string(said), '\n')
	if _, err := fmt.Sscan(string(said[at+1:]), &code); err != nil {
		t.Fatalf("curl %s: %s", url, said)
	}
	return code, string(said[:at])
}
