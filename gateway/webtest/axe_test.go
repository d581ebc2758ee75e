package webtest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"example.com/courtkin/gateway/web"
)

// axe checks the page as it stands against WCAG 2.2 AA and prints what breaks it.
func axe(b *tab, where string) {
	b.t.Helper()
	source, err := os.ReadFile(filepath.Join(toolFolder, "node_modules/axe-core/axe.min.js"))
	if err != nil {
		b.t.Fatal(err)
	}
	b.do(chromedp.Evaluate[chromedp.Void](string(source)))
	found := value[[]string](b, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]})
		.then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.target.join(" ") + ": " + n.failureSummary.replace(/\s+/g, " "))))`)
	for _, f := range found {
		b.t.Errorf("%s: %s", where, f)
	}
	if n := value[int](b, "axe.run(document).then(r => r.passes.length)"); n < 10 {
		b.t.Errorf("%s: only %d rules passed: axe saw no page", where, n)
	}
}

// TestAccessible checks every place and page, empty and filled, on both screens.
func TestAccessible(t *testing.T) {
	tools(t)
	s := serve(t, web.Files(), nil)
	in := browser(t)
	for _, screen := range []size{phone, desktop} {
		b := in.open(t, s.URL, screen)
		axe(b, screen.name+" try")
		b.click("nav a[href='#practice']")
		b.wait("!document.querySelector('#place-practice').hidden")
		axe(b, screen.name+" practice, empty")
		b.click("#practice-empty .take-made")
		b.wait("document.querySelectorAll('#practice-plots .plot').length > 0")
		b.click("#beads .bead")
		b.wait("document.querySelector('#practice-card .card')")
		axe(b, screen.name+" practice")
		b.click("nav a[href='#compare']")
		b.wait("document.querySelectorAll('#columns .row').length > 0")
		axe(b, screen.name+" compare")
		for _, page := range []string{"api", "clients", "privacy"} {
			b.do(chromedp.Navigate(s.URL + "/" + page))
			b.wait("document.readyState === 'complete' && document.querySelector('main').innerText.length > 400")
			axe(b, screen.name+" "+page)
			b.shot(page + "-" + screen.name)
			narrow(b, screen)
		}
		b.quiet(s.URL)
	}
}

// TestAxeSees shows that the check above can fail.
func TestAxeSees(t *testing.T) {
	tools(t)
	s := serve(t, web.Files(), nil)
	b := browser(t).open(t, s.URL, desktop)
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#play').textContent = ''`))
	source, err := os.ReadFile(filepath.Join(toolFolder, "node_modules/axe-core/axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.Evaluate[chromedp.Void](string(source)))
	if found := value[string](b, `axe.run(document).then(r => r.violations.map(v => v.id).join(" "))`); !strings.Contains(found, "button-name") {
		t.Errorf("a button without a name was not seen: %q", found)
	}
}

// TestKeys walks the places by keyboard alone.
func TestKeys(t *testing.T) {
	s := serve(t, web.Files(), nil)
	b := browser(t).open(t, s.URL+"/#compare", desktop)
	b.click("#compare-empty .take-made")
	b.wait("document.querySelectorAll('#columns .row').length > 0")
	b.do(chromedp.Focus(chromedp.CSS("#columns .row")), chromedp.KeyEvent("\r"))
	b.wait("document.querySelector('#columns .row').getAttribute('aria-pressed') === 'true'")
	at := value[float64](b, "Number(document.querySelector('#scrub').value)")
	b.do(chromedp.KeyEvent(kb.ArrowLeft))
	if now := value[float64](b, "Number(document.querySelector('#scrub').value)"); now >= at {
		t.Errorf("the arrow key went from %v to %v", at, now)
	}
	if lit := value[int](b, "document.querySelectorAll('#compare-ribbons .is-lit').length"); lit == 0 {
		t.Error("the row's phase is not shown on the ribbons")
	}
	b.quiet(s.URL)
}
