// Package iiif writes and reads what lets any viewer show a published photo with our regions on it: requests and descriptions of
// the IIIF Image API 3.0, manifests of the IIIF Presentation API 3.0, and regions as fragments (Media Fragments URI 1.0) in
// annotations (W3C Web Annotation Data Model). It knows neither HTTP nor pixels: a request becomes a rectangle and a size, or an
// *Error with the status that the standard names.
//
// Sources: https://iiif.io/api/image/3.0/, https://iiif.io/api/image/3.0/compliance/, https://iiif.io/api/presentation/3.0/,
// https://www.w3.org/TR/annotation-model/, https://www.w3.org/TR/media-frags/.
package iiif

import "fmt"

// Statuses of HTTP that the standard names.
const (
	badRequest     = 400
	notImplemented = 501
)

// Error says why a request cannot be answered.
type Error struct {
	Status int // of HTTP: 400 or 501
	Reason string
}

// Error returns the reason.
func (e *Error) Error() string { return e.Reason }

func bad(reason string, args ...any) error {
	return &Error{badRequest, fmt.Sprintf(reason, args...)}
}

func notDone(reason string, args ...any) error {
	return &Error{notImplemented, fmt.Sprintf(reason, args...)}
}
