package review

import (
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// extremes are values at the limits of a field, and those just beyond them.
func extremes(f LabelField) (within, beyond []string) {
	switch f.Kind {
	case LabelCount:
		return []string{plainNumber(f.Least), plainNumber(f.Greatest)}, []string{plainNumber(f.Least - 1), plainNumber(f.Greatest + 1), "two", "1.5"}
	case LabelNumber:
		return []string{plainNumber(f.Least), plainNumber(f.Greatest), strings.Replace(plainNumber(f.Greatest-0.5), ".", ",", 1)},
			[]string{plainNumber(f.Least - 0.01), plainNumber(f.Greatest + 0.01), "north", "NaN", "Inf"}
	case LabelChoice:
		return f.Choices, []string{"other", f.Choices[1] + " "}
	case LabelDate:
		return []string{"2026", "2026-05", "2026-05-14"}, []string{"yesterday", "14.5.2026", "2026-05-32"}
	case LabelText, LabelLong:
		return []string{strings.Repeat("ü", f.Most)}, []string{strings.Repeat("ü", f.Most+1), "a\x00b"}
	}
	return nil, nil
}

func problemsWith(f LabelField, typed string) (found []string) {
	var l Label
	var w Withheld
	f.Set(&l, &w, typed)
	var p Problems
	l.Check(&p)
	w.Check(&p)
	for _, problem := range p {
		if problem.Field == f.Path() {
			found = append(found, problem.Message)
		}
	}
	return found
}

func TestEveryFieldOfALabelIsInTheTable(t *testing.T) {
	named := map[string]bool{}
	for _, f := range LabelFields() {
		named[f.Path()] = true
	}
	for part, of := range map[string]reflect.Type{"label.": reflect.TypeFor[Label](), "withheld.": reflect.TypeFor[Withheld]()} {
		for i := range of.NumField() {
			name, _, _ := strings.Cut(of.Field(i).Tag.Get("json"), ",")
			require.True(t, named[part+name], part+name)
		}
	}
	require.Len(t, LabelFields(), reflect.TypeFor[Label]().NumField()+reflect.TypeFor[Withheld]().NumField())
	require.Len(t, named, len(LabelFields()), "no path stands twice")
}

func TestEveryFieldOfALabelIsCheckedAgainstItsLimit(t *testing.T) {
	for _, f := range LabelFields() {
		within, beyond := extremes(f)
		require.NotEmpty(t, beyond, f.Path())
		for _, typed := range within {
			for _, message := range problemsWith(f, typed) {
				require.Contains(t, message, "together", "%s: %q", f.Path(), typed)
			}
		}
		for _, typed := range beyond {
			require.NotEmpty(t, problemsWith(f, typed), "%s: %q", f.Path(), typed)
		}
	}
}

func TestProblemsOfALabelInWords(t *testing.T) {
	l := Label{CollectedFrom: "2026-05", CollectedTo: "2026-04", Sex: "both", Count: 10001, Country: strings.Repeat("x", 81)}
	north := 95.0
	w := Withheld{Latitude: &north}
	var p Problems
	l.Check(&p)
	w.Check(&p)
	for i := range p {
		require.NotNil(t, p[i].Wording())
		p[i] = FieldProblem{Field: p[i].Field, Message: p[i].Message}
	}
	require.Equal(t, Problems{
		{Field: "label.country", Message: "is longer than 80 letters"},
		{Field: "label.sex", Message: "must be male, female or empty"},
		{Field: "label.count", Message: "must be from 0 to 10000"},
		{Field: "label.collected_to", Message: "is before the beginning"},
		{Field: "withheld.latitude", Message: "must be from -90 to 90"},
		{Field: "withheld.longitude", Message: "give latitude and longitude together, or neither"},
	}, p)
}

// What is set alone comes back as it was typed, and stands in exactly one line of a page.
func TestEveryFieldOfALabelIsShown(t *testing.T) {
	for _, f := range LabelFields() {
		within, _ := extremes(f)
		typed := within[len(within)-1]
		var l Label
		var w Withheld
		require.Empty(t, f.Text(&l, &w), "nothing is known")
		f.Set(&l, &w, typed)
		text := f.Text(&l, &w)
		require.Equal(t, strings.Replace(typed, ",", ".", 1), text)
		var shown []string
		for _, line := range append(l.Lines(), w.Lines()...) {
			if line.Text != "" {
				shown = append(shown, line.Title)
				require.Contains(t, line.Text, text)
			}
		}
		require.Equal(t, []string{f.Title}, shown, f.Path())
	}
}

func TestNeighboursMakeOneLine(t *testing.T) {
	latitude, longitude, uncertainty, elevation := 47.5, -15.25, 30.0, -4.0
	l := Label{CollectedFrom: "2026-05-14", CollectedTo: "2026-05-16"}
	w := Withheld{Latitude: &latitude, Longitude: &longitude, UncertaintyM: &uncertainty, ElevationM: &elevation}
	require.Contains(t, l.Lines(), LabelLine{"label.collected_from", "Collected", "2026-05-14 to 2026-05-16"})
	require.Contains(t, w.Lines(), LabelLine{"withheld.latitude", "Coordinates", "47.5, -15.25 ± 30 m"})
	require.Contains(t, w.Lines(), LabelLine{"withheld.elevation_m", "Elevation", "-4 m"})
	coarse := w.Coarse()
	require.Contains(t, coarse.Lines(), LabelLine{"withheld.latitude", "Coordinates", "47.5, -15.3"})
}

// One line in a struct makes a field; one that lacks something is refused before the program starts.
func TestAFieldIsOneLine(t *testing.T) {
	f := labelFieldsOf(reflect.TypeFor[struct {
		Host string `json:"host,omitempty" maxLength:"80" title:"Host" hint:"The plant." doc:"Plant it was found on"`
	}]())
	require.Equal(t, []LabelField{{Name: "host", Title: "Host", Ask: "Host", Hint: "The plant.", Kind: LabelText, Most: 80, shown: "%s"}}, f)

	for name, of := range map[string]reflect.Type{
		"title": reflect.TypeFor[struct {
			Host string `json:"host" maxLength:"80" doc:"Plant"`
		}](),
		"limit": reflect.TypeFor[struct {
			Host string `json:"host" title:"Host" doc:"Plant"`
		}](),
		"range": reflect.TypeFor[struct {
			Host int `json:"host" title:"Host" doc:"Plant" minimum:"0"`
		}](),
		"empty choice": reflect.TypeFor[struct {
			Host string `json:"host" title:"Host" doc:"Plant" enum:"oak,beech"`
		}](),
		"kind": reflect.TypeFor[struct {
			Host string `json:"host" title:"Host" doc:"Plant" kind:"day" maxLength:"10"`
		}](),
		"type": reflect.TypeFor[struct {
			Host bool `json:"host" title:"Host" doc:"Plant"`
		}](),
	} {
		require.Panics(t, func() { labelFieldsOf(of) }, name)
	}
}

func TestFormsKeepPlaceAndCollectorTogether(t *testing.T) {
	var names []string
	for _, f := range LabelFields() {
		if f.Withheld {
			names = append(names, f.Name)
		}
	}
	require.Equal(t, []string{"locality", "collector", "latitude", "longitude", "uncertainty_m", "district", "elevation_m", "trip", "habitat", "permit", "verbatim_label"}, names)
}

func TestTypedNumbers(t *testing.T) {
	require.Nil(t, TypedNumber(""))
	require.InDelta(t, 12.5, *TypedNumber("12,5"), 0)
	for _, none := range []string{"x", "1,2,3", "NaN", "-Inf", "1e999"} {
		require.InDelta(t, Unreadable, *TypedNumber(none), 0, none)
	}
	require.Equal(t, 0, TypedWhole(""))
	require.Equal(t, 12, TypedWhole("12"))
	require.Equal(t, -1, TypedWhole("1.5"))
	require.Equal(t, -1, TypedWhole(strconv.FormatUint(1<<63, 10)))
}
