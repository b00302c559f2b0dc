package web

import (
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/danielgtaylor/huma/v2/validation"

	"revidit/review"
)

func init() {
	// huma takes these two from package variables only. The first serves the OpenAPI document.
	huma.NewError = func(status int, detail string, _ ...error) huma.StatusError { return newProblem(status, detail) }
	huma.NewErrorWithContext = humaProblem
}

// humaProblem turns what a handler returns, and what huma itself finds wrong, into a Problem.
func humaProblem(ctx huma.Context, status int, message string, errs ...error) huma.StatusError {
	c := humagin.Unwrap(ctx)
	s := c.MustGet(keyServer).(*Server)
	return s.problem(c, humaError(status, message, errs))
}

func humaError(status int, message string, errs []error) error {
	for _, err := range errs {
		if _, known := problemOf(err); known {
			return err
		}
	}
	switch status {
	case http.StatusBadRequest, http.StatusUnprocessableEntity:
		return invalid(message, errs)
	case http.StatusUnsupportedMediaType:
		return newProblem(status, "The body must be JSON (Content-Type: application/json). Nothing was stored.")
	case http.StatusRequestEntityTooLarge:
		return problemf(status, "This is too large: %s. Nothing was stored; send less at once.", message)
	case http.StatusRequestTimeout:
		return newProblem(status, "The body came too slowly. Nothing was stored; send it again.")
	case http.StatusInternalServerError:
		if message == "cannot read request body" {
			return review.Invalidf("body", "broke off before its end; send it again")
		}
		if len(errs) > 0 {
			return errs[0]
		}
	}
	return newProblem(status, message)
}

func invalid(message string, errs []error) error {
	var problems review.Problems
	for _, err := range errs {
		if detailer, ok := err.(huma.ErrorDetailer); ok {
			d := detailer.ErrorDetail()
			addDetail(&problems, fieldAt(d), d.Message)
			continue
		}
		problems.Addf("body", "%s", err)
	}
	if len(problems) == 0 {
		problems.Addf("body", "%s", message)
	}
	return problems.Err()
}

// fieldAt is the place of a problem as review names fields: without the part of the request that holds it.
func fieldAt(d *huma.ErrorDetail) string {
	part, field, nested := strings.Cut(d.Location, ".")
	if !nested {
		field = ""
	}
	if missing := requiredProperty(d.Message); missing != "" {
		if field == "" {
			return missing
		}
		return field + "." + missing
	}
	if field == "" {
		return part
	}
	return field
}

// requiredProperty is the name of the property that huma's message says is missing, or empty.
func requiredProperty(message string) string {
	before, after, _ := strings.Cut(validation.MsgExpectedRequiredProperty, "%s")
	if !strings.HasPrefix(message, before) || !strings.HasSuffix(message, after) {
		return ""
	}
	return strings.TrimSuffix(strings.TrimPrefix(message, before), after)
}

// addDetail notes what huma finds wrong, in our words where it is what we say ourselves.
func addDetail(problems *review.Problems, field, message string) {
	switch {
	case requiredProperty(message) != "":
		problems.Addf(field, "must be filled in")
	case message == validation.MsgUnexpectedProperty:
		problems.Addf(field, "is not known here")
	default:
		problems.Addf(field, "%s", message)
	}
}
