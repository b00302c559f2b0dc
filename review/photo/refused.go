package photo

import "fmt"

// RefusedError says why an upload was not accepted. Nothing of the upload is kept.
type RefusedError struct {
	// Reason is for people: what happened, what is safe, what to do.
	Reason string
	// Cause is the technical cause, for a log; may be nil.
	Cause error
}

// Error returns the reason.
func (e *RefusedError) Error() string { return e.Reason }

// Unwrap returns the technical cause.
func (e *RefusedError) Unwrap() error { return e.Cause }

// refusef builds a reason from what happened (a format without full stop) and what to do.
func refusef(cause error, happened, advice string, args ...any) *RefusedError {
	return &RefusedError{
		Reason: fmt.Sprintf(happened, args...) + ". Nothing of it was stored; everything else you entered is kept. " + advice,
		Cause:  cause,
	}
}

func megabytes(n int64) string { return fmt.Sprintf("%.4g MB", float64(n)/1e6) }
