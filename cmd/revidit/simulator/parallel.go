package simulator

import (
	"context"
	"errors"
	"runtime"
	"sync"
)

// Each does something for every index below n, as many at once as there are processors, and returns all errors. It
// begins nothing new after the first.
func Each(ctx context.Context, n int, do func(ctx context.Context, i int) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	errs := make([]error, n)
	next := make(chan int)
	var group sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		group.Go(func() {
			for i := range next {
				if errs[i] = do(ctx, i); errs[i] != nil {
					stop()
				}
			}
		})
	}
	for i := range n {
		select {
		case next <- i:
		case <-ctx.Done():
			errs[i] = ctx.Err()
		}
	}
	close(next)
	group.Wait()
	return errors.Join(errs...)
}
