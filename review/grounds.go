package review

import (
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/fnv"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Grounds are what a determination rests on in a compact form, for walks through a whole collection: of a specimen what was
// observed, of a submission what was cited and said. They hold just what Weighing.Evidence reads, so that a million of them can be
// weighed anew without a million whole records.
type Grounds struct {
	Specimen   string
	Submission string // empty: these are the specimen's own
	Seq        int    // of the last event that they were made of; of what FindGrounds lists 0
	Body       []byte
}

// openedOnce stands for the time when something came before reviewers, which does not matter here.
var openedOnce = time.Unix(0, 0).UTC()

// groundsForm is the first byte of every body; another number is another form.
const groundsForm = 1

// GroundsOfSpecimen are those of a specimen itself.
func GroundsOfSpecimen(s *Specimen) Grounds {
	w := newGroundsWriter()
	w.text(s.Label.Sex)
	w.number(len(s.Photos))
	for _, p := range s.Photos {
		w.place(p.ID)
		w.text(p.View)
	}
	w.number(len(s.Observations))
	for i := range s.Observations {
		o := &s.Observations[i]
		w.place(o.ID)
		w.text(o.Character)
		w.text(o.State)
		w.text(string(o.Sureness))
		w.text(o.By)
		w.text(string(o.Role))
		w.text(string(o.List))
		w.text(withdrawnAs(o.Withdrawn))
		w.flag(o.AfterHint)
	}
	return Grounds{Specimen: s.ID, Seq: s.Seq, Body: w.body}
}

// withdrawnAs keeps of a reason whether there is one, and whether it is the one that free lists ask for.
func withdrawnAs(reason string) string {
	if reason == "" || reason == TakenBack {
		return reason
	}
	return "withdrawn"
}

// GroundsOfSubmission are those of a submission that has come before reviewers; false of one that has not.
func GroundsOfSubmission(s *Submission) (Grounds, bool) {
	if s.OpenedAt == nil {
		return Grounds{}, false
	}
	w := newGroundsWriter()
	w.text(s.Group)
	w.text(string(s.Status))
	w.text(s.Owner)
	w.text(s.Determination.Family)
	w.time(s.DraftedAt)
	w.number(len(s.Cites))
	for _, id := range s.Cites {
		w.place(id)
	}
	w.number(len(s.Photos))
	for _, id := range s.Photos {
		w.place(id)
	}
	w.number(len(s.Verdicts))
	for i := range s.Verdicts {
		v := &s.Verdicts[i]
		w.place(v.Observation)
		w.text(string(v.Kind))
		w.text(v.Better)
		w.text(v.By)
		w.text(string(v.Role))
		w.flag(v.AfterOpening)
		w.time(v.At)
	}
	w.number(len(s.Blind))
	for i := range s.Blind {
		b := &s.Blind[i]
		w.place(b.Observation)
		w.text(b.State)
		w.text(b.By)
		w.text(string(b.Role))
		w.time(b.At)
	}
	return Grounds{Specimen: s.Specimen, Submission: s.ID, Seq: s.Seq, Body: w.body}, true
}

// groundsWriter writes each text once: later it is told by its number.
type groundsWriter struct {
	body  []byte
	texts map[string]int
	last  int64 // time, in nanoseconds
}

func newGroundsWriter() *groundsWriter {
	return &groundsWriter{body: []byte{groundsForm}, texts: map[string]int{}}
}

func (w *groundsWriter) number(n int) { w.body = binary.AppendUvarint(w.body, uint64(n)) }

func (w *groundsWriter) flag(on bool) {
	n := 0
	if on {
		n = 1
	}
	w.number(n)
}

// Numbers below which a text is told: as an id of sixteen bytes, as it is (with its length), and from which on by where it stood first.
const (
	textAsID = iota
	textAsItIs
	textsAgain
)

func (w *groundsWriter) text(s string) {
	if n, again := w.texts[s]; again {
		w.number(textsAgain + n)
		return
	}
	w.texts[s] = len(w.texts)
	if id, ok := bytesOfID(s); ok {
		w.number(textAsID)
		w.body = append(w.body, id...)
		return
	}
	w.number(textAsItIs)
	w.number(len(s))
	w.body = append(w.body, s...)
}

// idGroups are the digits of the groups of an id (RFC 9562, section 4).
var idGroups = [...]int{8, 4, 4, 4, 12}

// bytesOfID are the sixteen bytes of an id as it is written, in lower case; false of any other text.
func bytesOfID(s string) ([]byte, bool) {
	digits := strings.ReplaceAll(s, "-", "")
	id, err := hex.DecodeString(digits)
	return id, err == nil && len(id) == 16 && idOfBytes(id) == s
}

// idOfBytes is an id of sixteen bytes as it is written.
func idOfBytes(id []byte) string {
	digits := hex.EncodeToString(id)
	out := make([]byte, 0, len(digits)+len(idGroups)-1)
	for i, n := range idGroups {
		if i > 0 {
			out = append(out, '-')
		}
		out, digits = append(out, digits[:n]...), digits[n:]
	}
	return string(out)
}

// time is told by its distance from the last one.
func (w *groundsWriter) time(t time.Time) {
	at := t.UnixNano()
	w.body = binary.AppendVarint(w.body, at-w.last)
	w.last = at
}

// place is the id of an observation or photo, which has to be told from others of its specimen alone: eight bytes of FNV-1a, that two
// of a thousand are alike of is less likely than one in 10^13.
func (w *groundsWriter) place(id string) {
	h := fnv.New64a()
	h.Write([]byte(id))
	w.body = h.Sum(w.body)
}

// GroundsReader reads grounds and remembers the texts that come again and again. It is for one goroutine.
type GroundsReader struct {
	known  map[string]string
	places []uint64 // of the specimen at hand
	texts  []string
	body   []byte
	last   int64
	broken bool
	// What is read of one specimen, one behind the other, in memory that is used again.
	ids      []string
	verdicts []Verdict
	blind    []BlindCheck
	seen     []Observation
	photos   []Photo
}

// room makes room for n more behind what is there.
func room[T any](of []T, n int) (all, more []T) {
	at := len(of)
	all = slices.Grow(of, n)[:at+n]
	more = all[at : at+n : at+n]
	clear(more)
	return all, more
}

// NewGroundsReader returns one that knows nothing yet.
func NewGroundsReader() *GroundsReader {
	return &GroundsReader{known: map[string]string{}}
}

// mostKnown bounds the memory of a reader: people and states are fewer, ids are forgotten.
const mostKnown = 50_000

func (r *GroundsReader) begin(body []byte) error {
	if len(body) == 0 || body[0] != groundsForm {
		return errors.New("it is not in the form that this program writes; revidit rebuild makes it anew")
	}
	if len(r.known) > mostKnown {
		clear(r.known)
	}
	r.body, r.texts, r.last, r.broken = body[1:], r.texts[:0], 0, false
	return nil
}

func (r *GroundsReader) end(g *Grounds) error {
	if r.broken || len(r.body) > 0 {
		return fmt.Errorf("the grounds of specimen %s are cut off or damaged; revidit rebuild makes them anew", g.Specimen)
	}
	return nil
}

func (r *GroundsReader) take(n int) []byte {
	if n < 0 || n > len(r.body) {
		r.broken = true
		return nil
	}
	part := r.body[:n]
	r.body = r.body[n:]
	return part
}

func (r *GroundsReader) number() int {
	n, length := binary.Uvarint(r.body)
	if length <= 0 || n > 1<<40 {
		r.broken = true
		return 0
	}
	r.body = r.body[length:]
	return int(n)
}

// count is a number of things that follow, each of at least a byte.
func (r *GroundsReader) count() int {
	n := r.number()
	if n > len(r.body) {
		r.broken = true
		return 0
	}
	return n
}

func (r *GroundsReader) flag() bool { return r.number() == 1 }

func (r *GroundsReader) text() string {
	switch n := r.number(); {
	case r.broken:
		return ""
	case n == textAsID:
		return r.first(16, true)
	case n == textAsItIs:
		return r.first(r.number(), false)
	case n-textsAgain < len(r.texts):
		return r.texts[n-textsAgain]
	}
	r.broken = true
	return ""
}

// first is a text that this body has not told before.
func (r *GroundsReader) first(length int, id bool) string {
	part := r.take(length)
	if r.broken {
		return ""
	}
	s, known := r.known[string(part)]
	if !known || id != (len(s) == 36 && length == 16) {
		s = string(part)
		if id {
			s = idOfBytes(part)
		}
		r.known[string(part)] = s
	}
	r.texts = append(r.texts, s)
	return s
}

func (r *GroundsReader) time() time.Time {
	n, length := binary.Varint(r.body)
	if length <= 0 {
		r.broken = true
		return time.Time{}
	}
	r.body = r.body[length:]
	r.last += n
	return time.Unix(0, r.last).UTC()
}

func (r *GroundsReader) place() string {
	part := r.take(8)
	if r.broken {
		return ""
	}
	n := binary.BigEndian.Uint64(part)
	at := slices.Index(r.places, n)
	if at < 0 {
		at = len(r.places)
		r.places = append(r.places, n)
	}
	return placeID(at)
}

// placeID is the id of the place that a specimen has told of at a place in the order of telling.
func placeID(at int) string {
	if at < len(placeIDs) {
		return placeIDs[at]
	}
	return strconv.Itoa(at)
}

// placeIDs are those of nearly all.
var placeIDs = func() (ids [256]string) {
	for i := range ids {
		ids[i] = strconv.Itoa(i)
	}
	return ids
}()

// Specimen is one as far as its grounds tell: ids of its photos and observations are others than its own, and fit those of its
// submissions' grounds alone. It is good until the next specimen is read, and so are its submissions.
func (r *GroundsReader) Specimen(g *Grounds) (s Specimen, err error) {
	if err := r.begin(g.Body); err != nil {
		return s, fmt.Errorf("grounds of specimen %s: %w", g.Specimen, err)
	}
	r.places = r.places[:0]
	s.ID = g.Specimen
	s.Label.Sex = r.text()
	r.ids, r.verdicts, r.blind = r.ids[:0], r.verdicts[:0], r.blind[:0]
	r.photos, s.Photos = room(r.photos[:0], r.count())
	for i := range s.Photos {
		s.Photos[i].ID, s.Photos[i].View = r.place(), r.text()
	}
	r.seen, s.Observations = room(r.seen[:0], r.count())
	for i := range s.Observations {
		s.Observations[i] = Observation{ID: r.place(), Character: r.text(), State: r.text(), Sureness: Sureness(r.text()), By: r.text(),
			Role: Role(r.text()), List: List(r.text()), Withdrawn: r.text(), AfterHint: r.flag()}
	}
	return s, r.end(g)
}

// Submission is one as far as its grounds tell, with ids as in Specimen.
func (r *GroundsReader) Submission(g *Grounds) (s Submission, err error) {
	if err := r.begin(g.Body); err != nil {
		return s, fmt.Errorf("grounds of submission %s: %w", g.Submission, err)
	}
	s.ID, s.Specimen = g.Submission, g.Specimen
	s.Group, s.Status, s.Owner, s.Determination.Family, s.DraftedAt = r.text(), Status(r.text()), r.text(), r.text(), r.time()
	s.OpenedAt = &openedOnce
	r.ids, s.Cites = room(r.ids, r.count())
	for i := range s.Cites {
		s.Cites[i] = r.place()
	}
	r.ids, s.Photos = room(r.ids, r.count())
	for i := range s.Photos {
		s.Photos[i] = r.place()
	}
	r.verdicts, s.Verdicts = room(r.verdicts, r.count())
	for i := range s.Verdicts {
		s.Verdicts[i] = Verdict{Observation: r.place(), Kind: VerdictKind(r.text()), Better: r.text(), By: r.text(), Role: Role(r.text()),
			AfterOpening: r.flag(), At: r.time()}
	}
	r.blind, s.Blind = room(r.blind, r.count())
	for i := range s.Blind {
		s.Blind[i] = BlindCheck{Observation: r.place(), State: r.text(), By: r.text(), Role: Role(r.text()), At: r.time()}
	}
	return s, r.end(g)
}
