package auth

import (
	"context"
	"strconv"
	"sync"
	"time"

	"golang.org/x/time/rate"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/durationpb"
)

// tenants keeps what tenants have used. Only a token that is valid makes an
// entry, so strangers cannot make it grow; maxTenants bounds it all the same.
type tenants struct {
	quotas map[string]Quota
	mu     sync.Mutex
	used   map[string]*tenant
}

const maxTenants = 100_000

// tenant is one tenant's use of this replica.
type tenant struct {
	quota  Quota
	calls  *rate.Limiter
	frames *rate.Limiter

	mu      sync.Mutex
	streams int
	day     int64 // days since 1970, UTC
	today   int64 // frames
}

func newTenants(quotas map[string]Quota) *tenants {
	return &tenants{quotas: quotas, used: map[string]*tenant{}}
}

func (t *tenants) of(name string) *tenant {
	t.mu.Lock()
	defer t.mu.Unlock()
	if found := t.used[name]; found != nil {
		return found
	}
	if len(t.used) >= maxTenants {
		clear(t.used)
	}
	q, ok := t.quotas[name]
	if !ok {
		q = t.quotas["*"]
	}
	made := &tenant{quota: q, calls: limiter(q.CallsPerSecond), frames: limiter(q.FramesPerSecond)}
	t.used[name] = made
	return made
}

// burst is how many seconds' worth may come at once.
const burst = 2

func limiter(perSecond float64) *rate.Limiter {
	if perSecond == 0 {
		return rate.NewLimiter(rate.Inf, 0)
	}
	return rate.NewLimiter(rate.Limit(perSecond), max(1, int(burst*perSecond)))
}

// call counts a call.
func (t *tenant) call() error {
	if t.calls.Allow() {
		return nil
	}
	return exhausted("rate", int64(t.quota.CallsPerSecond), "calls a second")
}

// open takes one of the tenant's live practices.
func (t *tenant) open() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.quota.Streams > 0 && t.streams >= t.quota.Streams {
		return exhausted("tenant_streams", int64(t.quota.Streams), "live practices at once")
	}
	t.streams++
	return nil
}

func (t *tenant) close() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.streams--
}

// take counts frames; a sender that is too fast is held.
func (t *tenant) take(ctx context.Context, n int, now time.Time) error {
	if err := t.count(int64(n), now); err != nil {
		return err
	}
	for most := t.frames.Burst(); n > 0 && t.frames.Limit() != rate.Inf; {
		part := min(n, most)
		if err := t.frames.WaitN(ctx, part); err != nil {
			return status.FromContextError(ctx.Err()).Err()
		}
		n -= part
	}
	return nil
}

// count counts frames of a day.
func (t *tenant) count(n int64, now time.Time) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if day := now.Unix() / 86400; day != t.day {
		t.day, t.today = day, 0
	}
	if t.quota.FramesPerDay > 0 && t.today+n > t.quota.FramesPerDay {
		return exhausted("quota", t.quota.FramesPerDay, "frames a day")
	}
	t.today += n
	return nil
}

// exhausted names a limit, as the service's own limits are named.
func exhausted(limit string, most int64, unit string) error {
	text := "limit " + limit + ": at most " + strconv.FormatInt(most, 10) + " " + unit
	s, err := status.New(codes.ResourceExhausted, text).WithDetails(
		&errdetails.ErrorInfo{Reason: "LIMIT_PASSED", Domain: "courtkin.example.com",
			Metadata: map[string]string{"limit": limit, "most": strconv.FormatInt(most, 10)}},
		&errdetails.RetryInfo{RetryDelay: durationpb.New(time.Second)})
	if err != nil {
		return status.Error(codes.ResourceExhausted, text)
	}
	return s.Err()
}
