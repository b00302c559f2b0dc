package review

import (
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// fillEach puts something different into every field, so that a field that is forgotten or swapped shows.
func fillEach(v reflect.Value, n *int) {
	*n++
	switch v.Kind() {
	case reflect.String:
		v.SetString(fmt.Sprintf("é<%d>\n", *n))
	case reflect.Int:
		v.SetInt(int64(*n))
	case reflect.Float64:
		v.SetFloat(1 / float64(*n))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fillEach(v.Elem(), n)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fillEach(v.Index(0), n)
		fillEach(v.Index(1), n)
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			v.Set(reflect.ValueOf(time.Date(2026, 5, 14, 9, 30, 1, *n*1000, time.UTC)))
			return
		}
		for i := range v.NumField() {
			fillEach(v.Field(i), n)
		}
	}
}

// TestExtractHoldsEveryField: a field that the label gains is either in the extract or told here.
func TestExtractHoldsEveryField(t *testing.T) {
	n := 0
	var spec Specimen
	for _, part := range []any{&spec.ID, &spec.Label, &spec.Withholding, &spec.Photos, &spec.Origin, &spec.Slips, &spec.Described, &spec.Vouchings} {
		fillEach(reflect.ValueOf(part).Elem(), &n)
	}
	spec.RegisteredAt = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	region := &Region{0.1, 0.2, 0.3, 0.4}
	spec.Observations = []Observation{{ID: "o", Character: "c", State: "s", Photo: spec.Photos[0].ID, Region: region}, {ID: "taken back", Photo: "p", Region: region, Withdrawn: "w"}, {ID: "no region"}}
	e := ExtractOfSpecimen(&spec)
	got, err := e.DecodeSpecimen()
	require.NoError(t, err)
	want := extracted(&spec)
	require.Equal(t, want, got)
	require.Equal(t, []Observation{spec.Observations[0]}, got.Marked)
	for cut := range e.Body {
		_, err := (&Extract{Body: e.Body[:cut]}).DecodeSpecimen()
		require.Error(t, err, cut)
	}
}

func TestExtractOfSubmission(t *testing.T) {
	n := 0
	opened, closed := time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC), time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	sub := Submission{ID: "u", Specimen: "s", Group: "g", Status: StatusConfirmed, Undeterminable: "why", UndeterminedBy: "who", ChangedAt: closed, ClosedAt: &closed, Settlement: &Settlement{}}
	fillEach(reflect.ValueOf(&sub.Determination).Elem(), &n)
	sub.Opinions = []Opinion{{Kind: OpinionAgrees, Rank: RankGenus, Basis: BasisPhotos, By: "r", At: closed}}
	_, opens := ExtractOfSubmission(&sub)
	require.False(t, opens, "what never came before reviewers stays in the house")
	sub.OpenedAt = &opened
	e, opens := ExtractOfSubmission(&sub)
	require.True(t, opens)
	got, err := e.DecodeSubmission()
	require.NoError(t, err)
	require.Equal(t, ExtractedSubmission{ID: "u", Group: "g", Status: StatusConfirmed, Determination: sub.Determination, ChangedAt: closed, ClosedAt: &closed, Settled: true,
		Undeterminable: "why", UndeterminedBy: "who", Opinions: sub.Opinions}, got)
	sub.Status = StatusOpen
	e, _ = ExtractOfSubmission(&sub)
	got, err = e.DecodeSubmission()
	require.NoError(t, err)
	require.Empty(t, got.Opinions, "what is said of an open submission is sealed")
}

// TestCoarsening: on the ellipsoid of WGS 84 (semi-axes 6,378,137 m and 6,356,752.314 m; NIMA TR8350.2, third edition, 2000) no point of a cell lies further
// from where it is told to be than the uncertainty says.
func TestCoarsening(t *testing.T) {
	const a, b = 6_378_137.0, 6_356_752.314
	e2 := 1 - b*b/(a*a)
	meridian := func(lat float64) float64 {
		return a * (1 - e2) / math.Pow(1-e2*math.Pow(math.Sin(lat), 2), 1.5) * math.Pi / 180
	}
	parallel := func(lat float64) float64 {
		return a * math.Cos(lat) / math.Sqrt(1-e2*math.Pow(math.Sin(lat), 2)) * math.Pi / 180
	}
	require.LessOrEqual(t, meridian(math.Pi/2), float64(degreeOfLatitude))
	require.LessOrEqual(t, parallel(0), float64(degreeOfLongitude))
	for _, grid := range Grids {
		d := grid.Degrees()
		if d == 0 {
			continue
		}
		for lat := -89.7; lat < 90; lat += 7.3 {
			for _, off := range []float64{-0.499, -0.2, 0, 0.31, 0.499} {
				x, y := lat+off*d, 11.234567+off*d
				p := grid.Coarsen(x, y, nil)
				at := x * math.Pi / 180
				moved := math.Hypot((p.Latitude-x)*meridian(at), (p.Longitude-y)*parallel(at))
				require.LessOrEqual(t, moved, p.UncertaintyM, "%s at %v", grid, x)
				require.LessOrEqual(t, math.Abs(p.Latitude-x), d/2+1e-12)
			}
		}
	}
	recorded := 25.0
	p := GridTenth.Coarsen(49.12345, -11.98765, &recorded)
	require.Equal(t, CoarsePoint{Latitude: 49.1, Longitude: -12, UncertaintyM: p.UncertaintyM, Sure: true}, p)
	require.InDelta(t, 6_700, p.UncertaintyM, 100) // half the diagonal of 11.1 km by 7.3 km, and 25 m
	exact := GridExact.Coarsen(49.12345, -11.98765, &recorded)
	require.Equal(t, CoarsePoint{Latitude: 49.12345, Longitude: -11.98765, UncertaintyM: 25, Sure: true}, exact)
}

func TestPlacesOf(t *testing.T) {
	p := Places{Grid: GridHundred, Taxa: map[string]Grid{"Lucanidae": GridTenth, "Osmoderma": GridDegree, "Carabus olympiae": GridNone, "Carabus": GridExact}}
	require.Equal(t, GridHundred, p.Of("Elateridae", "Agriotes lineatus"))
	require.Equal(t, GridTenth, p.Of("Lucanidae"))
	require.Equal(t, GridDegree, p.Of("Scarabaeidae", "Osmoderma eremita (Scopoli, 1763)"))
	require.Equal(t, GridNone, p.Of("Carabidae", "Carabus olympiae Sella, 1855", "Elateridae"), "one of several names is protected")
	require.Equal(t, GridHundred, p.Of("Carabidae", "Carabus auratus"), "a taxon is told no finer than everything")
	require.Equal(t, DefaultGrid, Places{}.Of("Lucanidae"))
	var problems Problems
	Places{Grid: "near", Taxa: map[string]Grid{"Lucanidae": "far", " ": GridTenth}}.check(&problems)
	require.Len(t, problems, 3)
}

func TestNameWords(t *testing.T) {
	for name, want := range map[string]NameWords{
		"Agriotes":                                 {Genus: "Agriotes"},
		"Agriotes Eschscholtz, 1829":               {Genus: "Agriotes", Author: "Eschscholtz, 1829"},
		"Agriotes lineatus (Linnaeus, 1767)":       {Genus: "Agriotes", Epithet: "lineatus", Author: "(Linnaeus, 1767)"},
		"Carabus (Megodontus) violaceus":           {Genus: "Carabus", Subgenus: "Megodontus", Epithet: "violaceus"},
		"Carabus violaceus purpurascens Fabricius": {Genus: "Carabus", Epithet: "violaceus", Infraspecific: "purpurascens", Author: "Fabricius"},
		"Carabus violaceus subsp. purpurascens":    {Genus: "Carabus", Epithet: "violaceus", Infraspecific: "purpurascens"},
		"Agriotes gallicus de Marseul":             {Genus: "Agriotes", Epithet: "gallicus", Author: "de Marseul"},
		"":                                         {},
		"Agriotes sp.":                             {Genus: "Agriotes", Author: "sp."},
	} {
		d := Determination{ScientificName: name}
		require.Equal(t, want, d.NameWords(), name)
	}
}

func TestVouching(t *testing.T) {
	spec := Specimen{ID: "s", Seq: 1, Slips: []Slip{{ID: "slip"}}}
	now := time.Date(2026, 5, 14, 9, 0, 0, 0, time.UTC)
	opened := now
	curator := Moment{Actor: Actor{Person: "c", Role: RoleCurator}, Now: now}
	form := VouchForm{Determination: "slip", Verification: "3", Reason: "revision of 2024"}
	_, err := DecideVouch(Moment{Actor: Actor{Person: "r", Role: RoleReviewer}}, &spec, nil, form)
	require.Equal(t, KindForbidden, KindOf(err))
	for _, bad := range []VouchForm{{Determination: "other", Verification: "3", Reason: "r"}, {Determination: "slip", Verification: "2", Reason: "r"}, {Determination: "slip", Verification: "3"}} {
		_, err := DecideVouch(curator, &spec, nil, bad)
		require.Equal(t, KindInvalid, KindOf(err))
	}
	for _, f := range []VouchForm{form, {Determination: "sub", TypeStatus: "holotype of X", Reason: "r"}, {Determination: "slip", Reason: "an error"}} {
		c, err := DecideVouch(curator, &spec, []Submission{{ID: "sub", OpenedAt: &opened}}, f)
		require.NoError(t, err)
		require.NoError(t, spec.apply(Event{Seq: spec.Seq + 1, At: now, Actor: "c", Change: c}))
	}
	require.Len(t, spec.Vouchings, 1, "the last one took back what was vouched for")
	require.Equal(t, "holotype of X", spec.Vouchings[0].TypeStatus)
}
