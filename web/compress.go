package web

import (
	"fmt"
	"net/http"

	"github.com/klauspost/compress/gzhttp"
)

// compressible is what pages are made of. JSON is left as it is: its ETag is what a change is sent with, and a strong ETag
// stands for one coding only (RFC 9110, section 8.8.3). Photos are compressed already.
var compressible = []string{"text/html", "text/css", "text/javascript", "text/plain", "text/csv"}

// jitter is how many bytes at most the size of a compressed answer is off, so that its size tells an eavesdropper less of
// what it shares with a question that somebody else has put into its address (the attack that is called BREACH).
const jitter = 32

// compressed lets pages be sent compressed to those who accept it.
func compressed(next http.Handler) (http.Handler, error) {
	wrap, err := gzhttp.NewWrapper(gzhttp.ContentTypes(compressible), gzhttp.DropETag(), gzhttp.RandomJitter(jitter, 0, false))
	if err != nil {
		return nil, fmt.Errorf("web: compress answers: %w", err)
	}
	return wrap(next), nil
}
