package webtest

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"example.com/courtkin/gateway/web"
)

// ballFrames is enough of the made practice for its first ball, at 60 frames a second.
const ballFrames = 330

// TestTry plays the beginning of the made practice at true speed and reads the
// card, on both screens.
func TestTry(t *testing.T) {
	s := serve(t, shortened(t, ballFrames), nil)
	in := browser(t)
	for _, screen := range []size{phone, desktop} {
		b := in.open(t, s.URL, screen)
		b.shot("try-" + screen.name + "-before")
		started := time.Now()
		b.click("#play")
		b.wait("document.querySelector('#live-strip circle')")
		b.wait("document.querySelector('#now-phase').textContent !== 'waiting'")
		b.shot("try-" + screen.name + "-live")
		b.wait("document.querySelector('#place-try').dataset.state === 'finished'")
		if took := time.Since(started); took < ballFrames/60*time.Second {
			t.Errorf("%s: %d frames of 60 Hz took %v: faster than true speed", screen.name, ballFrames, took)
		}
		b.wait("document.querySelectorAll('#cards .card').length > 0")
		figures := value[[]string](b, "[...document.querySelectorAll('#cards .card:last-child .figures:not(.all) span.value')].map(e => e.textContent)")
		if len(figures) == 0 {
			t.Errorf("%s: no figures on the card", screen.name)
		}
		for _, f := range figures {
			if !strings.Contains(f, " ± ") {
				t.Errorf("%s: figure %q is without its error", screen.name, f)
			}
		}
		if n := value[int](b, "document.querySelectorAll('#cards .plot .band[d]:not([d=\"\"])').length"); n == 0 {
			t.Errorf("%s: no curve has a band", screen.name)
		}
		b.do(chromedp.ScrollIntoView(chromedp.CSS("#cards .card")))
		b.shot("try-" + screen.name + "-card")
		narrow(b, screen)
		b.quiet(s.URL)
	}
}

// narrow fails when a place is wider than its screen.
func narrow(b *tab, screen size) {
	b.t.Helper()
	if w := value[int64](b, "document.documentElement.scrollWidth"); w > screen.width {
		b.t.Errorf("%s: the page is %d wide on a screen of %d: %s", screen.name, w, screen.width,
			value[string](b, "[...document.querySelectorAll('main *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest('.beads')).slice(0, 5).map(e => e.tagName + '.' + e.getAttribute('class') + '#' + e.id).join(' ')"))
	}
}

// TestCompareAndPractice takes the made practice whole and visits the two other places.
func TestCompareAndPractice(t *testing.T) {
	s := serve(t, web.Files(), nil)
	in := browser(t)
	for _, screen := range []size{phone, desktop} {
		b := in.open(t, s.URL+"/#compare", screen)
		b.click("#compare-empty .take-made")
		b.wait("document.querySelectorAll('#pick-reference option').length >= 2")
		compare(b, screen)
		narrow(b, screen)
		b.click("nav a[href='#practice']")
		b.wait("document.querySelectorAll('#beads .bead').length >= 2")
		practicePlace(b, screen)
		narrow(b, screen)
		b.quiet(s.URL)
	}
}

func compare(b *tab, screen size) {
	b.t.Helper()
	b.wait("document.querySelectorAll('#columns .column').length === 3")
	b.shot("compare-" + screen.name)
	b.click("#step-on")
	b.wait("document.querySelector('#scrub-value').textContent.includes('after contact')")
	b.click("#overlay")
	b.wait("document.querySelector('#compare-right-box').hidden")
	b.shot("compare-" + screen.name + "-overlay")
	b.click("#align-phase")
	b.click("[data-speed='0.25']")
	b.wait("document.querySelector('[data-speed=\"0.25\"]').getAttribute('aria-pressed') === 'true'")
	b.click("#columns .row")
	b.wait("document.querySelector('#origin').textContent.includes('comes from')")
	if ink := value[int](b, "(c => [...c.getContext('2d').getImageData(0, 0, c.width, c.height).data].filter(v => v).length)(document.querySelector('.where canvas'))"); ink < 1000 {
		b.t.Errorf("%s: the row's picture is empty", screen.name)
	}
	b.do(chromedp.ScrollIntoView(chromedp.CSS(".where")))
	b.shot("compare-" + screen.name + "-columns")
}

func practicePlace(b *tab, screen size) {
	b.t.Helper()
	b.wait("document.querySelectorAll('#practice-plots .plot').length > 0")
	b.shot("practice-" + screen.name)
	b.do(chromedp.ScrollIntoView(chromedp.CSS("#practice-plots")))
	b.shot("practice-" + screen.name + "-plots")
	b.click("#beads .bead")
	b.wait("document.querySelector('#practice-card .card')")
}

// TestFar plays with cues over the whole screen: letters large enough to be
// read from three metres, on a phone upright and lying, and closed by a tap.
func TestFar(t *testing.T) {
	s := serve(t, shortened(t, ballFrames), nil)
	lying := size{"lying", 844, 390, true}
	b := browser(t).open(t, s.URL, lying)
	b.click("#large")
	b.click("#play")
	b.wait("document.querySelector('#far').open")
	b.shot("far-" + lying.name)
	letters := "parseFloat(document.querySelector('.far-text').style.fontSize)"
	if px := value[float64](b, letters); px < float64(lying.height)/8 { // an eighth of the screen's height
		t.Errorf("letters of %v px on a screen of %d", px, lying.height)
	}
	b.do(chromedp.EmulateViewport(phone.width, phone.height, chromedp.EmulateScale(2), chromedp.EmulateMobile))
	b.wait("innerHeight > innerWidth")
	time.Sleep(200 * time.Millisecond)
	b.shot("far-" + phone.name)
	if fits := value[bool](b, "(e => e.scrollWidth <= e.clientWidth && e.scrollHeight <= e.clientHeight)(document.querySelector('.far-text'))"); !fits {
		t.Error("the cue does not fit the upright screen")
	}
	b.click("#far-close")
	b.wait("!document.querySelector('#far').open")
	b.quiet(s.URL)
}

// TestSpokenAndSaved drops a file, hears its cue, and saves the practice.
func TestSpokenAndSaved(t *testing.T) {
	s := serve(t, shortened(t, ballFrames), nil)
	b := browser(t).open(t, s.URL, phone)
	b.do(chromedp.Evaluate[chromedp.Void](`(() => {
		window.said = [];
		window.saved = {};
		speechSynthesis.speak = (u) => window.said.push(u.text);
		const make = URL.createObjectURL;
		URL.createObjectURL = (blob) => { const url = make(blob); window.saved[blob.type] = blob; return url; };
	})()`))
	b.click("#speak")
	b.do(chromedp.Evaluate[chromedp.Void](`(async () => {
		const clip = await (await fetch("demo/practice.json")).json();
		const lines = [JSON.stringify(clip.setup), ...clip.frames.map(f => JSON.stringify(f))].join("\n");
		const data = new DataTransfer();
		data.items.add(new File([lines], "mine.ndjson"));
		document.querySelector("#place-try").dispatchEvent(new DragEvent("drop", {dataTransfer: data, bubbles: true, cancelable: true}));
	})()`, chromedp.EvalAwaitPromise))
	b.wait("document.querySelector('#cards .card .cue-text')")
	if said := value[[]string](b, "window.said"); len(said) == 0 || said[0] != value[string](b, "document.querySelector('#cards .card:last-child .cue-text').textContent") {
		t.Errorf("said %q", said)
	}
	b.wait("document.querySelector('#place-try').dataset.state === 'finished'")
	b.click("nav a[href='#practice']")
	b.wait("document.querySelector('#practice-plots .plot')")
	b.click("#export-csv")
	b.click("#export-html")
	b.wait("Object.keys(window.saved).length === 2")
	csv := value[string](b, "window.saved['text/csv;charset=utf-8'].text()")
	if head, _, _ := strings.Cut(csv, "\r\n"); head != "ball,id,stroke,measure,value,sd,low95,high95,unit,grade,reason" || !strings.Contains(csv, ",racket_speed.tip.contact,") {
		t.Errorf("CSV: %.200q", csv)
	}
	page := value[string](b, "window.saved['text/html;charset=utf-8'].text()")
	for _, want := range []string{"<!doctype html>", "<svg", "95 % interval", " ± "} {
		if !strings.Contains(page, want) {
			t.Errorf("the saved page lacks %q", want)
		}
	}
	if strings.Contains(page, "<script") || strings.Contains(strings.ReplaceAll(page, "http://www.w3.org/2000/svg", ""), "://") {
		t.Error("the saved page runs or asks for something")
	}
	b.quiet(s.URL)
}

// TestUnfitFiles drops files that are no clips; each is told what is wrong.
func TestUnfitFiles(t *testing.T) {
	s := serve(t, shortened(t, ballFrames), nil)
	b := browser(t).open(t, s.URL, desktop)
	for text, want := range map[string]string{
		"":                              "no setup",
		"hello":                         "line 1 is no JSON",
		`{"setup":{}}`:                  "no frames",
		`{"setup":{},"frames":[{}]}`:    "frame 0: no timeUs",
		"{}\n{\"index\":0,\"timeUs\":1": "line 2 is no JSON",
		`{"setup":{"layout":"POINT_LAYOUT_NO_SUCH"},"frames":[{"index":0,"timeUs":1}]}`: "POINT_LAYOUT_NO_SUCH",
	} {
		b.do(chromedp.Evaluate[chromedp.Void](`(() => {
			const data = new DataTransfer();
			data.items.add(new File([` + strconv.Quote(text) + `], "x.json"));
			document.querySelector("#place-try").dispatchEvent(new DragEvent("drop", {dataTransfer: data, bubbles: true, cancelable: true}));
		})()`))
		b.wait("document.querySelector('#try-status').textContent.includes(" + strconv.Quote(want) + ")")
	}
	b.quiet(s.URL)
}
