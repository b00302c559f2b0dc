package auth

import (
	"errors"
	"fmt"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// ErrTooMany is what every TooManyError is.
var ErrTooMany = errors.New("too many attempts to log in")

// TooManyError refuses an attempt to log in that came too soon after too many others.
type TooManyError struct {
	Wait time.Duration // until another attempt is worth it
}

func (e *TooManyError) Error() string {
	return fmt.Sprintf("Too many attempts to log in. This one was not looked at; wait %d seconds and try again.", int(e.Wait.Seconds())+1)
}

// Is makes errors.Is(err, ErrTooMany) true.
func (e *TooManyError) Is(target error) bool { return target == ErrTooMany }

// Limit is how often something may be tried: Burst times at once, and once more after each Every.
type Limit struct {
	Burst int
	Every time.Duration
}

// Limits on attempts to log in. The values are our own choice, common practice, no source: a person who mistypes is
// not stopped, a program that guesses is.
var (
	DefaultPerAccount = Limit{Burst: 10, Every: 30 * time.Second}
	DefaultPerAddress = Limit{Burst: 30, Every: 2 * time.Second}
)

// sweepEvery is how often keys that have been idle are forgotten.
const sweepEvery = time.Minute

// limiter keeps one bucket a key. A bucket that is full again says nothing any more and is forgotten.
type limiter struct {
	limit Limit

	mu      sync.Mutex
	buckets map[string]*rate.Limiter
	swept   time.Time
}

func newLimiter(l Limit) *limiter { return &limiter{limit: l, buckets: map[string]*rate.Limiter{}} }

// take counts an attempt, or returns a TooManyError and does not count it.
func (l *limiter) take(key string, now time.Time) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if now.Sub(l.swept) >= sweepEvery {
		l.sweep(now)
	}
	bucket, ok := l.buckets[key]
	if !ok {
		bucket = rate.NewLimiter(rate.Every(l.limit.Every), l.limit.Burst)
		l.buckets[key] = bucket
	}
	reserved := bucket.ReserveN(now, 1)
	if wait := reserved.DelayFrom(now); wait > 0 {
		reserved.CancelAt(now)
		return &TooManyError{Wait: wait}
	}
	return nil
}

func (l *limiter) sweep(now time.Time) {
	for key, bucket := range l.buckets {
		if bucket.TokensAt(now) >= float64(l.limit.Burst) {
			delete(l.buckets, key)
		}
	}
	l.swept = now
}

// addressKey is what a client address is counted under: IPv6 by its first 64 bits, which one household or server has
// to itself. An address that cannot be read is counted as it is written.
func addressKey(client string) string {
	address, err := netip.ParseAddr(client)
	if err != nil {
		return client
	}
	address = address.Unmap().WithZone("")
	if address.Is4() {
		return address.String()
	}
	return netip.PrefixFrom(address, 64).Masked().String()
}
