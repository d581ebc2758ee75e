// Package fault breaks connections on purpose: a TCP proxy that cuts, stalls
// and slows what passes through it, for the tests of what must survive that.
package fault

import (
	"context"
	"math/rand/v2"
	"net"
	"sync"
	"time"
)

// Harm says what a proxy does to each connection. The zero value passes
// everything on as it comes.
type Harm struct {
	CutAfter   func() int    // bytes up after which both sides are closed; nil: never
	StallAfter func() int    // bytes up after which nothing passes any more, though nobody is told; nil: never
	Rate       int           // bytes a second each way; 0: any
	Delay      time.Duration // before a piece is passed on
	Jitter     time.Duration // at random on top of it
}

// Proxy passes TCP connections on to a server.
type Proxy struct {
	listener net.Listener
	target   string
	harm     Harm
	done     context.Context
	stop     context.CancelFunc
	group    sync.WaitGroup

	mu   sync.Mutex
	hurt int // connections cut or stalled
}

// NewProxy listens on loopback and passes on to target.
func NewProxy(target string, harm Harm) (*Proxy, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	p := &Proxy{listener: listener, target: target, harm: harm}
	p.done, p.stop = context.WithCancel(context.Background())
	p.group.Go(p.serve)
	return p, nil
}

// Address is where the proxy listens.
func (p *Proxy) Address() string { return p.listener.Addr().String() }

// Hurt is how many connections were cut or stalled.
func (p *Proxy) Hurt() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.hurt
}

// Close ends the proxy and its connections.
func (p *Proxy) Close() {
	p.stop()
	_ = p.listener.Close()
	p.group.Wait()
}

func (p *Proxy) serve() {
	for {
		down, err := p.listener.Accept()
		if err != nil {
			return
		}
		p.group.Go(func() { p.join(down) })
	}
}

// join connects one client with the server until either ends or harm is done.
func (p *Proxy) join(client net.Conn) {
	server, err := (&net.Dialer{}).DialContext(p.done, "tcp", p.target)
	if err != nil {
		_ = client.Close()
		return
	}
	cut, stall := limit(p.harm.CutAfter), limit(p.harm.StallAfter)
	ctx, end := context.WithCancel(p.done)
	defer end()
	stopped := context.AfterFunc(ctx, func() { _ = client.Close(); _ = server.Close() })
	defer stopped()
	stalled := make(chan struct{})
	var both sync.WaitGroup
	both.Go(func() {
		defer end()
		p.pass(ctx, server, client, cut, stall, stalled)
	})
	both.Go(func() {
		defer end()
		p.pass(ctx, client, server, -1, -1, stalled)
	})
	both.Wait()
}

// limit draws a number of bytes, -1 for none.
func limit(draw func() int) int {
	if draw == nil {
		return -1
	}
	return draw()
}

// pass copies from one side to the other until an end or a harm; cut and stall
// count down the bytes to theirs.
func (p *Proxy) pass(ctx context.Context, to, from net.Conn, cut, stall int, stalled chan struct{}) {
	buffer := make([]byte, 4096)
	passed := 0
	for {
		n, err := from.Read(buffer)
		piece := buffer[:n]
		if cut >= 0 && passed+n >= cut {
			_, _ = to.Write(piece[:cut-passed]) // in the middle of a message
			p.note()
			return
		}
		if stall >= 0 && passed+n >= stall {
			p.note()
			close(stalled)
			stall = -1
		}
		if !p.hold(ctx, n, stalled) {
			return
		}
		passed += n
		if _, werr := to.Write(piece); werr != nil || err != nil {
			return
		}
	}
}

// hold waits as long as a piece of n bytes is to take; false at the end.
func (p *Proxy) hold(ctx context.Context, n int, stalled <-chan struct{}) bool {
	select {
	case <-stalled:
		<-ctx.Done()
		return false
	default:
	}
	wait := p.harm.Delay
	if p.harm.Jitter > 0 {
		wait += rand.N(p.harm.Jitter)
	}
	if p.harm.Rate > 0 {
		wait += time.Duration(n) * time.Second / time.Duration(p.harm.Rate)
	}
	if wait <= 0 {
		return ctx.Err() == nil
	}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-ctx.Done():
		return false
	}
}

func (p *Proxy) note() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.hurt++
}
