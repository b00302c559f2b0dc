package review

import (
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestEveryChangeSurvivesStorage(t *testing.T) {
	for kind, make := range newChange {
		change := make()
		fill(reflect.ValueOf(change).Elem())
		storedKind, data, err := EncodeChange(change)
		require.NoError(t, err)
		require.Equal(t, kind, storedKind)
		decoded, err := DecodeChange(storedKind, data)
		require.NoError(t, err)
		require.Equal(t, change, decoded, kind)
	}
}

// fill sets every field to something that is not its zero value, so that a field that is not stored shows.
func fill(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeOf(time.Time{}) {
			v.Set(reflect.ValueOf(time.Date(2026, 5, 14, 9, 30, 1, 250_000, time.UTC)))
			return
		}
		for i := range v.NumField() {
			if v.Type().Field(i).Tag.Get("json") != "-" { // the files of a release stand beside its event
				fill(v.Field(i))
			}
		}
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem())
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fill(v.Index(0))
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(key)
		fill(value)
		v.SetMapIndex(key, value)
	case reflect.String:
		v.SetString("é<&>\"\n")
	case reflect.Int:
		v.SetInt(7)
	case reflect.Float64:
		v.SetFloat(0.1 + 0.2)
	case reflect.Bool:
		v.SetBool(true)
	}
}

// sized is a change with a number.
type sized struct {
	Text   string
	Number int64
	Part   float64
}

func (sized) EventKind() string { return "sized" }

// TestEncodeRefusesNumbersThatNoDoubleTellsApart: RFC 8785, section 3.2.2.3 and appendix D: whole numbers beyond 2^53 are to be written as
// text, since 2^53 and 2^53 + 1 are the same double.
func TestEncodeRefusesNumbersThatNoDoubleTellsApart(t *testing.T) {
	const most = int64(1) << 53
	require.Equal(t, float64(most), float64(most+1))
	for number, taken := range map[int64]bool{0: true, most: true, -most: true, most + 2: true, most + 1: false, -most - 1: false, math.MaxInt64: false} {
		_, _, err := EncodeChange(sized{Text: `9007199254740993 "9007199254740993\`, Number: number, Part: 1e300})
		if taken {
			require.NoError(t, err, number)
			continue
		}
		require.ErrorContains(t, err, "more digits than a double holds", number)
	}
	for _, part := range []float64{1e15 + 0.5, 123456789012345678, 1e21, 5e-324, math.MaxFloat64, -0.1} {
		_, data, err := EncodeChange(sized{Part: part})
		require.NoError(t, err, data)
	}
}

func TestDecodeRefusesWhatItDoesNotKnow(t *testing.T) {
	_, err := DecodeChange("promoted", "{}")
	require.ErrorContains(t, err, "promoted")
	_, err = DecodeChange("withdrawn", `{"reason":"x","grade":1}`)
	require.ErrorContains(t, err, "grade")
}

func TestReplayRefusesGapsAndStrangers(t *testing.T) {
	begin := Event{Stream: "submission/a", Seq: 1, Actor: "p", Change: &Drafted{ID: "a"}}
	_, err := ReplaySubmission([]Event{begin, {Stream: "submission/a", Seq: 3, Change: &Submitted{}}})
	require.ErrorContains(t, err, "event 3 follows event 1")
	_, err = ReplaySubmission([]Event{begin, {Stream: "submission/a", Seq: 2, Change: &PhotosAdded{}}})
	require.ErrorContains(t, err, "not a submission's")
	_, err = ReplaySpecimen([]Event{{Stream: "specimen/a", Seq: 1, Change: &Drafted{}}})
	require.ErrorContains(t, err, "not a specimen's")
}

func TestApplyLeavesEarlierValuesAlone(t *testing.T) {
	at := time.Date(2026, 5, 14, 9, 0, 0, 0, time.UTC)
	before, err := ReplaySubmission([]Event{
		{Stream: "submission/a", Seq: 1, At: at, Actor: "owner", Change: &Drafted{ID: "a"}},
		{Stream: "submission/a", Seq: 2, At: at, Actor: "owner", Change: &Submitted{}},
		{Stream: "submission/a", Seq: 3, At: at, Actor: "r", Change: &VerdictsGiven{Verdicts: []Verdict{{Observation: "o", Kind: VerdictConfirm, By: "r"}}}},
	})
	require.NoError(t, err)
	after := before
	require.NoError(t, after.apply(Event{Stream: "submission/a", Seq: 4, At: at, Actor: "r",
		Change: &VerdictsGiven{Verdicts: []Verdict{{Observation: "o", Kind: VerdictDispute, By: "r"}}}}))
	require.Equal(t, VerdictConfirm, before.Verdicts[0].Kind)
	require.Equal(t, VerdictDispute, after.Verdicts[0].Kind)
	require.Len(t, after.Verdicts, 1)
}
