package webtest

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// size is a screen.
type size struct {
	name          string
	width, height int64
	mobile        bool
}

// Screens that the page is held to.
var (
	phone   = size{"phone", 390, 844, true}
	desktop = size{"desktop", 1440, 900, false}
)

// patience is for one step in the browser on a busy machine.
const patience = 30 * time.Second

// tab is a page in the browser, with everything it complained of.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu       sync.Mutex
	console  []string // errors and warnings
	requests []string // addresses asked for
}

// chromium is a running browser.
type chromium struct{ ctx context.Context }

// browser starts Chromium, or fails: it is installed by ./.ci/run. Flags are added.
func browser(t *testing.T, flags ...chromedp.ExecAllocatorOption) chromium {
	t.Helper()
	if testing.Short() {
		t.Skip("drives a browser")
	}
	t.Parallel() // most of their time is play at true speed
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatal("no chromium; ./.ci/run installs it")
	}
	options := append([]chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("hide-scrollbars", true),
	}, flags...)
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil { // the first run starts it, without a time limit
		t.Fatal(err)
	}
	return chromium{ctx}
}

// open opens an address in a tab of its own.
func (c chromium) open(t *testing.T, address string, s size, before ...chromedp.Action[chromedp.Void]) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(c.ctx)
	t.Cleanup(cancel)
	b := &tab{t: t, ctx: ctx}
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Listen(ctx, b.hear); err != nil {
		t.Fatal(err)
	}
	view := []chromedp.EmulateViewportOption{}
	if s.mobile {
		view = append(view, chromedp.EmulateScale(2), chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	b.do(chromedp.EmulateViewport(s.width, s.height, view...))
	b.do(before...)
	b.do(chromedp.Navigate(address))
	return b
}

// hear notes what a page says and asks for.
func (b *tab) hear(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			b.console = append(b.console, fmt.Sprint(e.Type, " ", said(e.Args)))
		}
	case *runtime.EventExceptionThrown:
		b.console = append(b.console, e.ExceptionDetails.Text+" "+said([]*runtime.RemoteObject{e.ExceptionDetails.Exception}))
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
			b.console = append(b.console, e.Entry.Text+" "+e.Entry.URL)
		}
	case *network.EventRequestWillBeSent:
		b.requests = append(b.requests, e.Request.URL)
	}
}

func said(args []*runtime.RemoteObject) string {
	var all []string
	for _, a := range args {
		all = append(all, string(a.Value)+a.Description)
	}
	return strings.Join(all, " ")
}

// do runs steps within patience.
func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatalf("%v\nconsole: %s", err, strings.Join(b.complaints(), "\n"))
	}
}

// click clicks what a selector names.
func (b *tab) click(css string) {
	b.t.Helper()
	b.do(chromedp.Click(chromedp.CSS(css)))
}

// value evaluates an expression in the page.
func value[T any](b *tab, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v\nconsole: %s", expression, err, strings.Join(b.complaints(), "\n"))
	}
	return v
}

// wait waits until an expression is true.
func (b *tab) wait(expression string) {
	b.t.Helper()
	end := time.Now().Add(patience)
	for !value[bool](b, "!!("+expression+")") {
		if time.Now().After(end) {
			b.t.Fatalf("never true: %s\npage: %s\nconsole: %s", expression,
				value[string](b, "document.querySelector('main').innerText.slice(0, 1500)"), strings.Join(b.complaints(), "\n"))
		}
		time.Sleep(100 * time.Millisecond)
	}
}

func (b *tab) complaints() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.console...)
}

// quiet fails when the page complained or asked another machine for something.
func (b *tab) quiet(home string) {
	b.t.Helper()
	for _, c := range b.complaints() {
		b.t.Errorf("console: %s", c)
	}
	b.atHome(home)
}

// atHome fails when the page asked another machine for something.
func (b *tab) atHome(home string) {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	host, _ := url.Parse(home)
	if len(b.requests) == 0 {
		b.t.Error("no requests were seen: the listener does not work")
	}
	for _, r := range b.requests {
		u, err := url.Parse(r)
		if err != nil || u.Scheme != "data" && u.Scheme != "blob" && u.Host != host.Host {
			b.t.Errorf("request leaves the machine: %s", r)
		}
	}
}

// shot leaves a picture of the page when pictures are wanted.
func (b *tab) shot(name string) {
	b.t.Helper()
	folder := os.Getenv("COURTKIN_SHOTS")
	if folder == "" {
		return
	}
	raw, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, name+".png"), raw, 0o600)
	}
	if err != nil {
		b.t.Log(err)
	}
}

// reducedMotion asks for less motion, as a reader's system may.
func reducedMotion() chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}},
		})
		return err
	})
}
