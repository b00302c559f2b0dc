package web

import (
	"encoding/json"
	"html"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// typedSamples are values for every field of the label, each another one.
func typedSamples() map[string]string {
	samples := map[string]string{}
	for i, f := range review.LabelFields() {
		switch f.Kind {
		case review.LabelText, review.LabelLong:
			samples[f.Path()] = "Some " + f.Path()
		case review.LabelDate:
			samples[f.Path()] = "2026-05-" + strconv.Itoa(i+10)
		case review.LabelChoice:
			samples[f.Path()] = f.Choices[len(f.Choices)-1]
		case review.LabelCount:
			samples[f.Path()] = strconv.Itoa(int(f.Greatest) - 1)
		case review.LabelNumber:
			samples[f.Path()] = strconv.FormatFloat(f.Greatest-0.25*float64(i)-0.03, 'f', 2, 64) // finer than a tenth
		}
	}
	return samples
}

// atPath finds a value by its path in JSON, as text.
func atPath(t testing.TB, doc map[string]any, path string) string {
	t.Helper()
	part, name, _ := strings.Cut(path, ".")
	values, ok := doc[part].(map[string]any)
	require.True(t, ok, part)
	text, err := json.Marshal(values[name])
	require.NoError(t, err)
	return strings.Trim(string(text), `"`)
}

// Every field of the label goes through the form, is stored, comes back into the form, and is on the page, in the history
// and in the API, under its name.
func TestEveryFieldOfALabelGoesRound(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/specimens/" + v.Specimen.ID
	samples := typedSamples()
	fields := url.Values{"version": {strconv.Itoa(v.Specimen.Seq)}, "reason": {"whole at last"}}
	for field, value := range samples {
		fields.Set(field, value)
	}
	require.Equal(t, path, club.post("ada", path+"/label", fields).goesTo())

	form := club.page("ada", path+"/label", http.StatusOK)
	page := html.UnescapeString(club.page("ada", path, http.StatusOK))
	history := html.UnescapeString(club.page("ada", "/submissions/"+v.Submission.ID+"/history", http.StatusOK))
	answer := decoded[map[string]any](club.call("ada", "GET", "/api/v1"+path, nil).is(http.StatusOK))
	answer["label"] = answer["specimen"].(map[string]any)["label"]
	for _, f := range review.LabelFields() {
		value := samples[f.Path()]
		require.Contains(t, form, `name="`+f.Path()+`"`)
		require.Contains(t, form, ">"+f.Ask+"</label>")
		require.Regexp(t, `value="`+value+`"|>`+value+`</textarea>`, form, f.Path())
		require.Equal(t, value, atPath(t, answer, f.Path()), f.Path())
		require.Contains(t, page, "<dt>"+f.Title+"</dt>")
		require.Contains(t, page, value, f.Path())
		if !f.Withheld {
			require.Contains(t, history, "<dt>"+f.Title+"</dt>")
			require.Contains(t, history, value, f.Path())
		} else {
			require.NotContains(t, history, value, "what can be erased is not in the history")
		}
	}
	for _, f := range review.LabelFields() {
		if f.Withheld {
			require.NotContains(t, club.page("ben", path, http.StatusOK), samples[f.Path()], f.Path())
		}
	}
}

// What is beyond a limit comes back as it was typed, with the message beside its field, from all fields at once.
func TestEveryFieldOfALabelIsHeldToItsLimitOnAPage(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/specimens/" + v.Specimen.ID
	fields := url.Values{"version": {strconv.Itoa(v.Specimen.Seq)}, "reason": {"too much"}}
	for _, f := range review.LabelFields() {
		fields.Set(f.Path(), "Q"+strings.Repeat("x", f.Most))
	}
	text := club.shown(club.post("ada", path+"/label", fields), http.StatusBadRequest)
	for _, f := range review.LabelFields() {
		id := "f-" + strings.NewReplacer(".", "-", "_", "-").Replace(f.Path())
		require.Contains(t, text, `<a href="#`+id+`">`+f.Ask+"</a>: ", "the summary calls it as the form does")
		require.Contains(t, text, `id="`+id+`-wrong"`)
		if f.Kind != review.LabelChoice {
			require.Contains(t, text, "Q"+strings.Repeat("x", f.Most)+map[bool]string{true: "</textarea>", false: `"`}[f.Kind == review.LabelLong])
		}
	}
	require.Equal(t, v.Specimen.Seq, club.viewOf("ada", v.Submission.ID).Specimen.Seq, "nothing was stored")
}

// Pages let people type as many letters as are taken. maxlength: HTML Living Standard, 4.10.5.3.1.
func TestFormsOfLabelsHaveTheLimits(t *testing.T) {
	club := newAPIClub(t)
	text := club.page("ada", "/submissions/new", http.StatusOK)
	for _, f := range review.LabelFields() {
		if f.Most > 0 {
			require.Regexp(t, `name="`+f.Path()+`"[^>]* maxlength="`+strconv.Itoa(f.Most)+`"`, text)
		}
	}
}

// schema has the keywords of JSON Schema (draft 2020-12, validation) that limit a value.
type schema struct {
	Description string
	MaxLength   *int
	Minimum     *float64
	Maximum     *float64
	Enum        []any // numbers, too
}

func TestOpenAPIHasTheLimitsOfTheLabel(t *testing.T) {
	club := newAPIClub(t)
	doc := decoded[struct {
		Components struct {
			Schemas map[string]struct{ Properties map[string]schema }
		}
	}](club.call("", "GET", "/api/v1/openapi.json", nil).is(http.StatusOK))
	parts := map[bool]map[string]schema{false: doc.Components.Schemas["Label"].Properties, true: doc.Components.Schemas["Withheld"].Properties}
	require.Len(t, review.LabelFields(), len(parts[false])+len(parts[true]))
	for _, f := range review.LabelFields() {
		got, ok := parts[f.Withheld][f.Name]
		require.True(t, ok, f.Path())
		require.NotEmpty(t, got.Description)
		switch f.Kind {
		case review.LabelCount, review.LabelNumber:
			require.Equal(t, []*float64{&f.Least, &f.Greatest}, []*float64{got.Minimum, got.Maximum}, f.Path())
		case review.LabelChoice:
			require.Equal(t, len(f.Choices), len(got.Enum))
			for i, choice := range f.Choices {
				require.Equal(t, any(choice), got.Enum[i])
			}
		default:
			require.NotNil(t, got.MaxLength, f.Path())
			require.Equal(t, f.Most, *got.MaxLength)
		}
	}
}
