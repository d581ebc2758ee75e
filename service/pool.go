package service

import (
	"context"
	"fmt"
	"runtime/debug"
	"sync"
	"time"
)

// poolQueue is how many swings of each class may wait for a worker: their raw
// windows are a quarter of a megabyte each at 60 Hz. Beyond, who hands one out
// waits, and through him his client.
const poolQueue = 128

// class is who waits for a swing. Workers take a live one first, whoever came first.
type class int

const (
	live class = iota
	clip
	numClasses
)

// pool settles swings aside from the turns of their streams, with a bounded
// number of workers: while they are all busy, cores are left for live frames.
// A worker is a goroutine that ends when nothing is left to do.
type pool struct {
	workers int
	took    func(stage string, seconds float64) // Config.Took; may be nil
	room    [numClasses]slots                   // held by tasks from submit to their end

	mu      sync.Mutex
	waiting [numClasses][]*task
	running int
}

func newPool(workers int, took func(string, float64)) *pool {
	p := &pool{workers: workers, took: took}
	for c := range p.room {
		p.room[c] = newSlots(poolQueue + workers)
	}
	return p
}

// task is a piece of work in the pool.
type task struct {
	ctx   context.Context // who waits; when it has ended before the work began, there is none
	do    func()
	class class
	came  time.Time
	done  chan struct{} // closed at the end; what follows is read after it

	ran    bool
	defect *defect
}

// defect is a panic of a task, to be raised again where it can be told to whom
// it belongs.
type defect struct {
	cause any
	stack []byte
}

func (d *defect) Error() string { return fmt.Sprintf("%v\nin the pool:\n%s", d.cause, d.stack) }

// submit hands work over. It waits while the queue is full, and fails when ctx ends.
func (p *pool) submit(ctx context.Context, c class, do func()) (*task, error) {
	if err := p.room[c].take(ctx); err != nil {
		return nil, err
	}
	t := &task{ctx: ctx, do: do, class: c, done: make(chan struct{})}
	if p.took != nil {
		t.came = time.Now()
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.waiting[c] = append(p.waiting[c], t)
	if p.running < p.workers {
		p.running++
		go p.work()
	}
	return t, nil
}

// work does tasks until none is left.
func (p *pool) work() {
	for t := p.next(); t != nil; t = p.next() {
		p.run(t)
	}
}

// next takes the task whose turn it is; nil when there is none, and the worker's place is free.
func (p *pool) next() *task {
	p.mu.Lock()
	defer p.mu.Unlock()
	for c, w := range p.waiting {
		if len(w) > 0 {
			t := w[0]
			w[0] = nil
			p.waiting[c] = w[1:]
			return t
		}
	}
	p.running--
	return nil
}

// run does one task. A panic ends the task and not the process.
func (p *pool) run(t *task) {
	begin := time.Time{}
	if p.took != nil {
		begin = time.Now()
		p.took("queue", begin.Sub(t.came).Seconds())
	}
	defer func() {
		if r := recover(); r != nil {
			t.defect = &defect{r, debug.Stack()}
		}
		if p.took != nil && t.ran {
			p.took("settle", time.Since(begin).Seconds())
		}
		t.do = nil
		p.room[t.class].free()
		close(t.done)
	}()
	if t.ctx.Err() == nil {
		t.ran = true
		t.do()
	}
}

// share is the part of the places for work, done or waiting, that is taken.
func (p *pool) share() float64 { return p.room[live].share() }

// wait waits for the end of a task. It is false when the work was not done
// since nobody waits for its outcome any more.
func (t *task) wait() bool {
	select {
	case <-t.done:
	case <-t.ctx.Done():
		return false
	}
	return t.ended()
}

// ended reports whether the work of a task that is at its end was done.
func (t *task) ended() bool {
	if t.defect != nil {
		panic(t.defect)
	}
	return t.ran
}
