package gateway

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"

	"go.uber.org/goleak"
)

const openLine = `{"open":{"setup":{"layout":"POINT_LAYOUT_COCO_17"}}}`

// TestLinesFlowWhileTheBodyIsOpen asks line by line, each answer before the
// next question, in HTTP/1.1.
func TestLinesFlowWhileTheBodyIsOpen(t *testing.T) {
	url, _ := serve(t, Config{})
	body, lines := io.Pipe()
	answers := make(chan string)
	done := make(chan error, 1)
	go func() {
		req, _ := http.NewRequestWithContext(within(t), http.MethodPost, url+"/v1/practices:stream", body)
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			done <- err
			return
		}
		defer res.Body.Close()
		scan := bufio.NewScanner(res.Body)
		for scan.Scan() {
			answers <- scan.Text()
		}
		done <- scan.Err()
	}()
	for _, c := range []struct{ ask, want string }{
		{openLine, `"serverVersion":"made"`},
		{`{"frames":{"frames":[{},{}]}}`, `"received":2`},
		{`{"frames":{"frames":[{}]}}`, `"received":3`},
	} {
		if _, err := io.WriteString(lines, c.ask+"\n"); err != nil {
			t.Fatal(err)
		}
		if got := strings.ReplaceAll(<-answers, " ", ""); !strings.Contains(got, c.want) {
			t.Fatalf("%s: %s", c.ask, got)
		}
	}
	if _, err := io.WriteString(lines, `{"finish":{"frames":[3]}}`+"\n"); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil {
		t.Errorf("end: %v", err)
	}
	lines.Close()
}

// TestHeadersComeBeforeTheFirstLine: a client that writes only once it has
// seen headers must not wait for ever.
func TestHeadersComeBeforeTheFirstLine(t *testing.T) {
	url, _ := serve(t, Config{})
	body, lines := io.Pipe()
	req, err := http.NewRequestWithContext(within(t), http.MethodPost, url+"/v1/practices:stream", body)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	go func() {
		_, _ = io.WriteString(lines, openLine+"\n"+`{"finish":{}}`+"\n")
		lines.Close()
	}()
	raw, err := io.ReadAll(res.Body)
	if err != nil || !strings.Contains(string(raw), "made") {
		t.Errorf("%v %s", err, raw)
	}
}

func TestHowLinesEnd(t *testing.T) {
	url, _ := serve(t, Config{LineBytes: 500, Objects: 20})
	frame := `{"frames":{"frames":[{}]}}`
	cases := []struct {
		name  string
		lines []string
		http  int
		rpc   int    // of the last line or the answer; 0: the good end
		says  string // in the error
		abort bool   // broken off besides
	}{
		{"finish", []string{openLine, frame, `{"finish":{"frames":[1]}}`}, 200, 0, "", false},
		{"finish without a last newline", []string{openLine, "", frame, `{"finish":{}}`}, 200, 0, "", false},
		{"cut off", []string{openLine, frame}, 200, 15, "cut off", false},
		{"frames lost", []string{openLine, frame, `{"finish":{"frames":[2]}}`}, 200, 15, "lost", false},
		{"malformed", []string{openLine, frame, `{"frames":{"fra`}, 200, 3, "unexpected", true},
		{"unknown field", []string{openLine, frame, `{"frame":{}}`}, 200, 3, `"frame"`, true},
		{"too long a line", []string{openLine, frame, `{"open":{"practiceId":"` + strings.Repeat("x", 500) + `"}}`}, 200, 8, "line_bytes", true},
		{"too many objects", []string{openLine, `{"frames":{"frames":[` + strings.Repeat("{},", 20) + `{}]}}`}, 200, 8, "objects", true},
		{"malformed first", []string{`nonsense`}, 400, 3, "invalid", false},
		{"no setup", []string{`{"open":{}}`}, 400, 3, "setup", false},
		{"nothing", []string{""}, 500, 15, "cut off", false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			req, err := http.NewRequestWithContext(within(t), http.MethodPost, url+"/v1/practices:stream", strings.NewReader(strings.Join(c.lines, "\n")))
			if err != nil {
				t.Fatal(err)
			}
			client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
			res, err := client.Do(req)
			if err != nil {
				t.Fatal(err)
			}
			defer res.Body.Close()
			raw, err := io.ReadAll(res.Body)
			if aborted := errors.Is(err, io.ErrUnexpectedEOF); aborted != c.abort || err != nil && !aborted {
				t.Errorf("reading ended with %v", err)
			}
			all := strings.Split(strings.TrimSpace(string(raw)), "\n")
			a := lastError(t, all[len(all)-1], res.StatusCode)
			if res.StatusCode != c.http || a.Code != c.rpc || !strings.Contains(a.Message, c.says) {
				t.Errorf("%d: %s", res.StatusCode, raw)
			}
			if c.http == 200 && !strings.Contains(all[0], "made") {
				t.Errorf("the findings before are lost: %s", raw)
			}
		})
	}
}

// lastError reads the error of a last line, or of a whole answer that is no 200.
func lastError(t *testing.T, line string, code int) answer {
	t.Helper()
	var a answer
	if code != 200 {
		if err := json.Unmarshal([]byte(line), &a); err != nil {
			t.Errorf("%v: %s", err, line)
		}
		return a
	}
	var last struct{ Error answer }
	if err := json.Unmarshal([]byte(line), &last); line != "" && err != nil {
		t.Errorf("%v: %s", err, line)
	}
	return last.Error
}

func TestStreamsLeaveNothingBehind(t *testing.T) {
	t.Run("work", func(t *testing.T) {
		url, _ := serve(t, Config{})
		call(t, "POST", url+"/v1/practices:stream", strings.NewReader(openLine+"\n"+`{"finish":{}}`))
		call(t, "POST", url+"/v1/practices:stream", strings.NewReader(openLine))
		// A client that goes away in the middle.
		body, lines := io.Pipe()
		req, err := http.NewRequestWithContext(within(t), http.MethodPost, url+"/v1/practices:stream", body)
		if err != nil {
			t.Fatal(err)
		}
		client := &http.Client{Transport: &http.Transport{}}
		go func() { _, _ = io.WriteString(lines, openLine+"\n") }()
		res, err := client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := bufio.NewReader(res.Body).ReadString('\n'); err != nil {
			t.Fatal(err)
		}
		lines.Close()
		res.Body.Close()
		client.CloseIdleConnections()
	})
	http.DefaultClient.CloseIdleConnections()
	goleak.VerifyNone(t)
}
