package fault

import (
	"bytes"
	"errors"
	"io"
	"net"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// echo answers every byte with itself.
func echo(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() { defer c.Close(); _, _ = io.Copy(c, c) }()
		}
	}()
	return l.Addr().String()
}

// through sends n bytes through a proxy and returns how many come back within a while, and how it ended.
func through(t *testing.T, h Harm, n int, wait time.Duration) (int, error) {
	t.Helper()
	p, err := NewProxy(echo(t), h)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	c, err := net.Dial("tcp", p.Address())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	go func() { _, _ = c.Write(bytes.Repeat([]byte("x"), n)) }()
	_ = c.SetReadDeadline(time.Now().Add(wait))
	got, err := io.ReadFull(c, make([]byte, n))
	return got, err
}

func TestProxy(t *testing.T) {
	const n = 100_000
	at := func(bytes int) func() int { return func() int { return bytes } }
	if got, err := through(t, Harm{}, n, 10*time.Second); got != n || err != nil {
		t.Errorf("harmless: %d %v", got, err)
	}
	if got, err := through(t, Harm{CutAfter: at(30_001)}, n, 10*time.Second); got > 30_001 || err == nil || timedOut(err) {
		t.Errorf("cut: %d %v", got, err)
	}
	if got, err := through(t, Harm{StallAfter: at(30_000)}, n, 300*time.Millisecond); got > 30_000 || !timedOut(err) {
		t.Errorf("stalled: %d %v", got, err)
	}
	begin := time.Now()
	if got, err := through(t, Harm{Rate: 500_000, Delay: time.Millisecond}, n, 20*time.Second); got != n || err != nil || time.Since(begin) < 200*time.Millisecond {
		t.Errorf("slow: %d %v after %v", got, err, time.Since(begin))
	}
	time.Sleep(10 * time.Millisecond)
	goleak.VerifyNone(t, goleak.IgnoreAnyFunction("example.com/courtkin/service/fault.echo.func2"))
}

func timedOut(err error) bool {
	var e net.Error
	return errors.As(err, &e) && e.Timeout()
}
