package webtest

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"example.com/courtkin/gateway/web"
)

// TestDroppedSocket cuts the connection while a ball is in play: the page says
// so, goes on over a new one, and the ball's card comes, once.
func TestDroppedSocket(t *testing.T) {
	s := serve(t, shortened(t, ballFrames), nil)
	b := browser(t).open(t, s.URL, phone)
	b.do(chromedp.Evaluate[chromedp.Void](`(() => {
		const place = document.querySelector("#place-try");
		window.states = [];
		new MutationObserver(() => window.states.push(place.dataset.state)).observe(place, {attributeFilter: ["data-state"]});
	})()`))
	b.click("#play")
	b.wait("document.querySelector('#now-phase').textContent.match(/take back|forward swing|drop/)")
	if s.cut() == 0 {
		t.Fatal("there was no connection to cut")
	}
	b.wait("document.querySelector('#place-try').dataset.state === 'finished'")
	if states := value[[]string](b, "window.states"); !slices.Contains(states, "waiting") {
		t.Errorf("the reader was not told: states %v", states)
	}
	if n := s.connections(); n < 2 {
		t.Errorf("%d connections were opened, want a second one", n)
	}
	ids := value[[]string](b, "[...document.querySelectorAll('#cards .card')].map(c => c.dataset.swing)")
	if len(ids) == 0 {
		t.Error("the ball in play was lost")
	}
	seen := map[string]bool{}
	for _, id := range ids {
		if seen[id] {
			t.Errorf("swing %s was told twice", id)
		}
		seen[id] = true
	}
	if whole := undisturbed(b); len(whole) != len(ids) || whole[0] != ids[0] {
		t.Errorf("balls %v with the cut, %v without", ids, whole)
	}
}

// undisturbed asks for the same frames' balls without a stream.
func undisturbed(b *tab) []string {
	b.t.Helper()
	return value[[]string](b, `(async () => {
		const clip = await (await fetch("demo/practice.json")).json();
		const answer = await fetch("v1/clips:analyze", {method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify(clip)});
		return (await answer.json()).swings.map(s => s.id).reverse();
	})()`)
}

// TestOffline loads the page, takes the network away, and loads it again.
func TestOffline(t *testing.T) {
	s := serve(t, web.Files(), nil)
	b := browser(t).open(t, s.URL, phone)
	b.wait("document.documentElement.dataset.offline === 'ready'")
	b.quiet(s.URL)
	s.cut()
	s.Close() // nothing answers from here on
	b.do(offline(true), chromedp.Reload())
	b.wait("document.querySelector('#play')")
	b.wait("!document.querySelector('#offline').hidden")
	b.shot("offline-phone")
	for _, path := range []string{"/api", "/clients", "/privacy", "/demo/practice.json"} {
		if status := value[int](b, "fetch('"+path+"').then(r => r.status)"); status != 200 {
			t.Errorf("%s: status %d without a network", path, status)
		}
	}
	b.click("#play")
	b.wait("document.querySelector('#place-try').dataset.state === 'waiting'")
	b.wait("document.querySelector('#try-status').textContent.includes('Nothing is lost')")
}

// offline takes the page's network away, or gives it back.
func offline(on bool) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: on, DownloadThroughput: -1, UploadThroughput: -1})
		return err
	})
}

// TestLessMotion plays with reduced motion asked for: the figure is still
// between events, and the numbers come all the same.
func TestLessMotion(t *testing.T) {
	s := serve(t, shortened(t, ballFrames), nil)
	b := browser(t).open(t, s.URL, phone, reducedMotion())
	if !value[bool](b, "matchMedia('(prefers-reduced-motion: reduce)').matches") {
		t.Fatal("the browser does not ask for less motion")
	}
	b.do(chromedp.Evaluate[chromedp.Void](`(() => {
		window.drawn = 0;
		const clear = CanvasRenderingContext2D.prototype.clearRect;
		CanvasRenderingContext2D.prototype.clearRect = function (...a) { window.drawn++; return clear.apply(this, a); };
	})()`))
	b.click("#play")
	b.wait("document.querySelector('#live-strip circle')")
	time.Sleep(2 * time.Second)
	if n := value[int](b, "window.drawn"); n > 20 {
		t.Errorf("the figure was drawn %d times in two seconds", n)
	}
	b.wait("document.querySelector('#place-try').dataset.state === 'finished'")
	b.wait("document.querySelector('#cards .card')")
}

// TestKeyAsked: a service that asks for a key is asked again with the one
// that the reader enters.
func TestKeyAsked(t *testing.T) {
	s := serve(t, shortened(t, ballFrames), nil)
	inner := s.Config.Handler
	s.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked := strings.HasPrefix(r.URL.Path, "/v1/")
		known := r.Header.Get("Authorization") == "Bearer k-7" || strings.Contains(r.Header.Get("Sec-WebSocket-Protocol"), "courtkin.v1.bearer.k-7")
		if asked && !known {
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(http.StatusUnauthorized)
			_, _ = w.Write([]byte(`{"code":16,"message":"a key is asked for"}`))
			return
		}
		inner.ServeHTTP(w, r)
	})
	b := browser(t).open(t, s.URL, phone)
	b.click("#play")
	b.wait("document.querySelector('#try-status').textContent.includes('asks for a key')")
	b.do(chromedp.SendKeys(chromedp.CSS("#key"), "k-7"))
	b.click("#key-form button")
	b.wait("document.querySelector('#key-said').textContent.includes('In use')")
	b.click("#play")
	b.wait("document.querySelector('#place-try').dataset.state === 'finished'")
	b.wait("document.querySelector('#cards .card')")
}
