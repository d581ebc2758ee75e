package auth

import (
	"net"
	"sync"

	"golang.org/x/time/rate"
)

// guesses bounds wrong credentials by where they come from, so that somebody
// who guesses locks out nobody but his own address.
type guesses struct {
	mu   sync.Mutex
	from map[string]*rate.Limiter
}

// A phone with an old key, behind a club's one address, tries less often.
const (
	wrongPerSecond = 5
	wrongBurst     = 50
	maxPeers       = 10_000 // remembered; then all are forgotten
)

// of returns an address's limiter, nil for one that did nothing wrong yet.
func (g *guesses) of(address string) *rate.Limiter {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.from[host(address)]
}

// spent reports whether an address has used its guesses up.
func (g *guesses) spent(address string) bool {
	l := g.of(address)
	return l != nil && l.Tokens() < 1
}

// wrong counts a wrong guess.
func (g *guesses) wrong(address string) {
	l := g.of(address)
	if l == nil {
		l = rate.NewLimiter(wrongPerSecond, wrongBurst)
		g.mu.Lock()
		if g.from == nil || len(g.from) >= maxPeers {
			g.from = map[string]*rate.Limiter{}
		}
		g.from[host(address)] = l
		g.mu.Unlock()
	}
	l.Allow()
}

// host is an address without its port.
func host(address string) string {
	if h, _, err := net.SplitHostPort(address); err == nil {
		return h
	}
	return address
}
