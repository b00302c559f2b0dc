package collection

import (
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"reflect"
	"time"

	"revidit/models"
	"revidit/review"
)

const dayLayout = "2006-01-02"

// telling is one life told again: what becomes of its texts and times.
type telling struct {
	texts map[string]string
	later time.Duration
}

// share finds out which changes no telling changes, such as assessments: those are told as they are.
func (m *mould) share(all *Moulds) {
	probe := telling{texts: map[string]string{numberMark: "", tripMark: "", drawerMark: ""}, later: time.Hour}
	for _, texts := range [][]string{m.ids, m.seeds, m.days, all.members, all.reviewers, {curatorID}} {
		for _, text := range texts {
			probe.texts[text] = ""
		}
	}
	for _, events := range m.streams {
		for _, e := range events {
			m.shared[e.Change] = reflect.DeepEqual(e.Change, probe.change(e.Change))
		}
	}
}

// filling is the life as it is told now.
func (m *mould) filling(t *telling) (models.Filling, error) {
	f := models.Filling{Recurring: m.shared}
	if m.draft != nil {
		f.Draft = &review.DraftSaved{Draft: t.value(reflect.ValueOf(*m.draft)).Interface().(review.Draft)}
	}
	for i, events := range m.streams {
		told := make([]review.Event, len(events))
		for k, e := range events {
			told[k] = review.Event{Stream: t.stream(e.Stream), Seq: e.Seq, At: e.At.Add(t.later), Actor: t.text(e.Actor), Role: e.Role, Change: e.Change}
			if !m.shared[e.Change] {
				told[k].Change = t.change(e.Change)
			}
		}
		f.Events = append(f.Events, told...)
		if i == 0 {
			specimen, err := review.ReplaySpecimen(told)
			if err != nil {
				return f, err
			}
			f.Specimens = append(f.Specimens, specimen)
			continue
		}
		submission, err := review.ReplaySubmission(told)
		if err != nil {
			return f, err
		}
		f.Submissions = append(f.Submissions, submission)
	}
	for _, w := range m.withheld {
		w.ID = t.text(w.ID) // salt and body stay, so that the digest in the event fits
		f.Withheld = append(f.Withheld, w)
	}
	for _, u := range m.uploads {
		f.Uploads = append(f.Uploads, t.value(reflect.ValueOf(u)).Interface().(review.Upload))
	}
	return f, nil
}

func (t *telling) text(text string) string {
	if other, ok := t.texts[text]; ok {
		return other
	}
	return text
}

// stream is a stream with the id of this telling.
func (t *telling) stream(stream string) string {
	for i := range stream {
		if stream[i] == '/' {
			return stream[:i+1] + t.text(stream[i+1:])
		}
	}
	return stream
}

// change is a change with all its texts and times as they are in this telling.
func (t *telling) change(c review.Change) review.Change {
	return t.value(reflect.ValueOf(c)).Interface().(review.Change)
}

var timeType = reflect.TypeFor[time.Time]()

// value copies a value. Events hold no interfaces and nothing that is not exported, but for times.
func (t *telling) value(v reflect.Value) reflect.Value {
	switch v.Kind() {
	case reflect.String:
		if other, ok := t.texts[v.String()]; ok {
			return reflect.ValueOf(other).Convert(v.Type())
		}
		return v
	case reflect.Pointer:
		if v.IsNil() {
			return v
		}
		out := reflect.New(v.Type().Elem())
		out.Elem().Set(t.value(v.Elem()))
		return out
	case reflect.Struct:
		return t.structure(v)
	case reflect.Slice:
		if v.IsNil() {
			return v
		}
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			out.Index(i).Set(t.value(v.Index(i)))
		}
		return out
	case reflect.Map:
		if v.IsNil() {
			return v
		}
		out := reflect.MakeMapWithSize(v.Type(), v.Len())
		for key, value := range v.Seq2() {
			out.SetMapIndex(t.value(key), t.value(value))
		}
		return out
	}
	return v
}

func (t *telling) structure(v reflect.Value) reflect.Value {
	if v.Type() == timeType {
		at := v.Interface().(time.Time)
		if at.IsZero() {
			return v
		}
		return reflect.ValueOf(at.Add(t.later))
	}
	out := reflect.New(v.Type()).Elem()
	for i := range v.NumField() {
		out.Field(i).Set(t.value(v.Field(i)))
	}
	return out
}

// newID is a UUID version 7 (RFC 9562) of a time, as the service makes them: in order of time.
func newID(at time.Time, dice *rand.Rand) string {
	var b [16]byte
	ms, high, low := uint64(at.UnixMilli()), dice.Uint64(), dice.Uint64()
	for i := range 6 {
		b[i] = byte(ms >> (40 - 8*i))
	}
	for i := range 8 {
		b[8+i] = byte(low >> (8 * i))
	}
	b[6], b[7] = 0x70|byte(high&0x0f), byte(high>>8)
	b[8] = 0x80 | b[8]&0x3f
	var text [36]byte
	hex.Encode(text[0:8], b[0:4])
	hex.Encode(text[9:13], b[4:6])
	hex.Encode(text[14:18], b[6:8])
	hex.Encode(text[19:23], b[8:10])
	hex.Encode(text[24:], b[10:])
	text[8], text[13], text[18], text[23] = '-', '-', '-', '-'
	return string(text[:])
}

// newSeed is as long as what it stands for.
func newSeed(length int, dice *rand.Rand) string {
	text := fmt.Sprintf("%016x%016x%016x%016x", dice.Uint64(), dice.Uint64(), dice.Uint64(), dice.Uint64())
	return text[:min(length, len(text))]
}
