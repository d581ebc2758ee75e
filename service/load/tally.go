package load

import (
	"math"
	"sync"
	"sync/atomic"
	"time"
)

// spread counts delays in buckets of 2 %, from 1 µs to a quarter of an hour. It
// may be used from many goroutines.
type spread struct{ bucket [1100]atomic.Int64 }

const (
	leastDelay = time.Microsecond
	step       = 1.02
)

func (s *spread) add(d time.Duration) {
	i := 0
	if d > leastDelay {
		i = min(int(math.Log(float64(d)/float64(leastDelay))/math.Log(step))+1, len(s.bucket)-1)
	}
	s.bucket[i].Add(1)
}

func (s *spread) count() (n int64) {
	for i := range s.bucket {
		n += s.bucket[i].Load()
	}
	return n
}

// quantile returns the upper edge of the bucket that holds the q-quantile, q in
// (0, 1]; 0 when nothing was counted.
func (s *spread) quantile(q float64) time.Duration {
	rank := int64(math.Ceil(q * float64(s.count())))
	if rank == 0 {
		return 0
	}
	seen := int64(0)
	for i := range s.bucket {
		if seen += s.bucket[i].Load(); seen >= rank {
			return time.Duration(float64(leastDelay) * math.Pow(step, float64(i)))
		}
	}
	return 0
}

// tally is what all players of a trial note.
type tally struct {
	frames, messages   atomic.Int64 // sent; acknowledged messages
	up, down           atomic.Int64 // bytes on the connections
	practices          atomic.Int64 // ended well
	played             atomic.Int64 // ns, over all players
	expected, found    atomic.Int64 // swings of ended practices
	lost, doubled, odd atomic.Int64 // odd: swings that the reference lacks
	breaks             atomic.Int64 // connections that broke and were survived
	late               atomic.Int64 // ns, the worst that a message was handed over after its time

	ack, contact, instant, swing spread

	mu       sync.Mutex
	failures []string // of practices that did not end well; the first few
	failed   int
}

// maxFailures is how many failures are told in words.
const maxFailures = 5

func (t *tally) fail(err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.failed++
	if len(t.failures) < maxFailures {
		t.failures = append(t.failures, err.Error())
	}
}

// lag keeps the worst lateness.
func (t *tally) lag(d time.Duration) {
	for {
		old := t.late.Load()
		if int64(d) <= old || t.late.CompareAndSwap(old, int64(d)) {
			return
		}
	}
}

// hold compares a practice's swings with the reference.
func (t *tally) hold(want, got []string) {
	left := map[string]int{}
	for _, id := range want {
		left[id]++
	}
	for _, id := range got {
		n, known := left[id]
		switch {
		case !known:
			t.odd.Add(1)
		case n == 0:
			t.doubled.Add(1)
		default:
			left[id]--
		}
	}
	for _, n := range left {
		t.lost.Add(int64(n))
	}
	t.expected.Add(int64(len(want)))
	t.found.Add(int64(len(got)))
}

// Delays are quantiles of one kind of delay.
type Delays struct {
	Count          int64
	P50, P99, P999 time.Duration
}

func (s *spread) delays() Delays {
	return Delays{s.count(), s.quantile(0.5), s.quantile(0.99), s.quantile(0.999)}
}
