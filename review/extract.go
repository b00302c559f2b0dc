package review

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"
)

// Extract is what leaves the house of a specimen, or of a submission of it, in a compact form, so that an archive of a million can be
// written without a million whole records. It holds nothing that is withheld.
type Extract struct {
	Specimen   string
	Submission string // empty: it is the specimen's own
	Withheld   string // id of the withheld label data; of a submission empty
	Seq        int    // of the last event that it was made of
	Body       []byte
}

// extractForm is the first byte of every body; another number is another form.
const extractForm = 1

// ExtractedSpecimen is what leaves the house of a specimen.
type ExtractedSpecimen struct {
	ID          string
	ChangedAt   time.Time // the latest time that anything of it tells
	Label       Label
	Withholding Withholding
	Photos      []Photo
	Marked      []Observation // those that mark a region of a photo, and were not taken back
	Origin      *Origin
	Slips       []Slip
	Described   []Described
	Vouchings   []Vouching
}

// ExtractedSubmission is what leaves the house of a submission.
type ExtractedSubmission struct {
	ID             string
	Group          string
	Status         Status
	Determination  Determination
	ChangedAt      time.Time
	ClosedAt       *time.Time
	Settled        bool // enough agreed with it, whatever followed
	Undeterminable string
	UndeterminedBy string
	// Opinions are those of a submission that is closed: before, they are sealed.
	Opinions []Opinion
}

// ExtractOfSpecimen is that of a specimen itself.
func ExtractOfSpecimen(s *Specimen) Extract {
	w := extractWriter{body: []byte{extractForm}}
	e := extracted(s)
	w.text(e.ID)
	w.time(e.ChangedAt)
	w.label(&e.Label)
	w.text(e.Withholding.Digest)
	w.number(len(e.Photos))
	for i := range e.Photos {
		p := &e.Photos[i]
		w.text(p.ID)
		w.text(p.View)
		w.text(p.SHA256)
		w.text(p.Type)
		w.number(p.Width)
		w.number(p.Height)
		w.text(p.By)
		w.time(p.At)
	}
	w.number(len(e.Marked))
	for i := range e.Marked {
		o := &e.Marked[i]
		w.text(o.ID)
		w.text(o.Character)
		w.text(o.State)
		w.text(o.Photo)
		for _, x := range []float64{o.Region.X, o.Region.Y, o.Region.W, o.Region.H} {
			w.float(x)
		}
	}
	w.json(e.rare())
	return Extract{Specimen: s.ID, Withheld: s.Withholding.ID, Seq: s.Seq, Body: w.body}
}

func extracted(s *Specimen) ExtractedSpecimen {
	e := ExtractedSpecimen{ID: s.ID, ChangedAt: s.RegisteredAt, Label: s.Label, Withholding: s.Withholding, Photos: s.Photos, Origin: s.Origin, Slips: s.Slips,
		Described: s.Described, Vouchings: s.Vouchings}
	for _, p := range s.Photos {
		e.ChangedAt = later(e.ChangedAt, p.At)
		if p.Published != nil {
			e.ChangedAt = later(e.ChangedAt, p.Published.At)
		}
	}
	for _, v := range s.Vouchings {
		e.ChangedAt = later(e.ChangedAt, v.At)
	}
	for _, o := range s.Observations {
		e.ChangedAt = later(e.ChangedAt, o.At)
		if o.Region != nil && o.Photo != "" && o.Withdrawn == "" {
			e.Marked = append(e.Marked, o)
		}
	}
	return e
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// rareParts are those that few specimens have.
type rareParts struct {
	Origin    *Origin     `json:"o,omitempty"`
	Slips     []Slip      `json:"s,omitempty"`
	Described []Described `json:"d,omitempty"`
	Vouchings []Vouching  `json:"v,omitempty"`
	// Published are photos that everybody may see, by their place among the photos.
	Published map[int]*Publication `json:"p,omitempty"`
}

func (e *ExtractedSpecimen) rare() *rareParts {
	var published map[int]*Publication
	for i := range e.Photos {
		if e.Photos[i].Published == nil {
			continue
		}
		if published == nil {
			published = map[int]*Publication{}
		}
		published[i] = e.Photos[i].Published
	}
	if e.Origin == nil && len(e.Slips)+len(e.Described)+len(e.Vouchings)+len(published) == 0 {
		return nil
	}
	return &rareParts{e.Origin, e.Slips, e.Described, e.Vouchings, published}
}

// ExtractOfSubmission is that of a submission that has come before reviewers; false of one that has not.
func ExtractOfSubmission(s *Submission) (Extract, bool) {
	if s.OpenedAt == nil {
		return Extract{}, false
	}
	w := extractWriter{body: []byte{extractForm}}
	d := &s.Determination
	for _, text := range []string{s.ID, s.Group, string(s.Status), d.Family, d.AsGiven, d.ScientificName, string(d.Qualifier), string(d.Doubted),
		d.Determiner, d.DeterminedOn, d.Wording, s.Undeterminable, s.UndeterminedBy} {
		w.text(text)
	}
	w.time(s.ChangedAt)
	closed := time.Time{}
	if s.ClosedAt != nil {
		closed = *s.ClosedAt
	}
	w.time(closed)
	settled := 0
	if s.Settlement != nil {
		settled = 1
	}
	w.number(settled)
	var opinions []Opinion
	if s.Closed() {
		opinions = s.Opinions
	}
	w.number(len(opinions))
	for i := range opinions {
		o := &opinions[i]
		for _, text := range []string{string(o.Kind), o.Family, string(o.Rank), string(o.Basis), o.By} {
			w.text(text)
		}
		w.time(o.At)
	}
	return Extract{Specimen: s.Specimen, Submission: s.ID, Seq: s.Seq, Body: w.body}, true
}

// DecodeSpecimen reads the extract of a specimen.
func (e *Extract) DecodeSpecimen() (s ExtractedSpecimen, err error) {
	r, err := newExtractReader(e.Body)
	if err != nil {
		return s, e.unreadable(err)
	}
	s.ID = r.text()
	s.ChangedAt = r.time()
	r.label(&s.Label)
	s.Withholding = Withholding{ID: e.Withheld, Digest: r.text()}
	if n := r.count(); n > 0 {
		s.Photos = make([]Photo, n)
	}
	for i := range s.Photos {
		s.Photos[i] = Photo{ID: r.text(), View: r.text(), SHA256: r.text(), Type: r.text(), Width: r.number(), Height: r.number(), By: r.text(), At: r.time()}
	}
	if n := r.count(); n > 0 {
		s.Marked = make([]Observation, n)
	}
	for i := range s.Marked {
		s.Marked[i] = Observation{ID: r.text(), Character: r.text(), State: r.text(), Photo: r.text(), Region: &Region{X: r.float(), Y: r.float(), W: r.float(), H: r.float()}}
	}
	if text := r.text(); text != "" && r.err == nil {
		var rare rareParts
		if err := json.Unmarshal([]byte(text), &rare); err != nil {
			return s, e.unreadable(err)
		}
		s.Origin, s.Slips, s.Described, s.Vouchings = rare.Origin, rare.Slips, rare.Described, rare.Vouchings
		for i, published := range rare.Published {
			if i < 0 || i >= len(s.Photos) {
				return s, e.unreadable(errExtract)
			}
			s.Photos[i].Published = published
		}
	}
	return s, e.unreadable(r.end())
}

// DecodeSubmission reads the extract of a submission.
func (e *Extract) DecodeSubmission() (s ExtractedSubmission, err error) {
	r, err := newExtractReader(e.Body)
	if err != nil {
		return s, e.unreadable(err)
	}
	s = ExtractedSubmission{ID: r.text(), Group: r.text(), Status: Status(r.text())}
	s.Determination = Determination{Family: r.text(), AsGiven: r.text(), ScientificName: r.text(), Qualifier: Qualifier(r.text()), Doubted: Rank(r.text()),
		Determiner: r.text(), DeterminedOn: r.text(), Wording: r.text()}
	s.Undeterminable, s.UndeterminedBy = r.text(), r.text()
	s.ChangedAt = r.time()
	if closed := r.time(); !closed.IsZero() {
		s.ClosedAt = &closed
	}
	s.Settled = r.number() == 1
	if n := r.count(); n > 0 {
		s.Opinions = make([]Opinion, n)
	}
	for i := range s.Opinions {
		s.Opinions[i] = Opinion{Kind: OpinionKind(r.text()), Family: r.text(), Rank: Rank(r.text()), Basis: Basis(r.text()), By: r.text(), At: r.time()}
	}
	return s, e.unreadable(r.end())
}

func (e *Extract) unreadable(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("what leaves the house of specimen %s, submission %q, cannot be read: rebuild makes it again: %w", e.Specimen, e.Submission, err)
}

type extractWriter struct{ body []byte }

func (w *extractWriter) number(n int) { w.body = binary.AppendUvarint(w.body, uint64(n)) }

func (w *extractWriter) text(s string) {
	w.number(len(s))
	w.body = append(w.body, s...)
}

func (w *extractWriter) float(x float64) {
	w.body = binary.LittleEndian.AppendUint64(w.body, math.Float64bits(x))
}

// time is in microseconds, as events have it; a zero time is 0.
func (w *extractWriter) time(t time.Time) {
	at := int64(0)
	if !t.IsZero() {
		at = t.UnixMicro()
	}
	w.body = binary.AppendVarint(w.body, at)
}

// json writes nothing for nil. What stands here is always JSON: it was an event.
func (w *extractWriter) json(rare *rareParts) {
	if rare == nil {
		w.text("")
		return
	}
	text, err := json.Marshal(rare)
	if err != nil {
		panic(err)
	}
	w.text(string(text))
}

func (w *extractWriter) label(l *Label) {
	for _, text := range [...]string{l.CatalogueNumber, l.Country, l.Province, l.CollectedFrom, l.CollectedTo, l.Trip, l.Method, l.Habitat, l.Sex, l.Stage,
		strconv.Itoa(l.Count), l.Preparation, l.MissingParts, l.StoragePlace, l.Disposition, l.HostPlant} {
		w.text(text)
	}
}

// extractReader cuts texts out of one string, so that reading makes no copies.
type extractReader struct {
	left string
	err  error
}

var errExtract = errors.New("it is too short, or of another form")

func newExtractReader(body []byte) (*extractReader, error) {
	if len(body) == 0 || body[0] != extractForm {
		return nil, errExtract
	}
	return &extractReader{left: string(body[1:])}, nil
}

func (r *extractReader) number() int {
	n, shift := uint64(0), 0
	for i := 0; i < len(r.left) && shift < 63; i++ {
		b := r.left[i]
		n |= uint64(b&0x7f) << shift
		if b < 0x80 {
			r.left = r.left[i+1:]
			return int(n)
		}
		shift += 7
	}
	r.broken()
	return 0
}

func (r *extractReader) broken() { r.left, r.err = "", errExtract }

// count is a number of things that follow, each of a byte at least.
func (r *extractReader) count() int {
	n := r.number()
	if n < 0 || n > len(r.left) {
		r.broken()
		return 0
	}
	return n
}

func (r *extractReader) text() string {
	n := r.count()
	s := r.left[:n]
	r.left = r.left[n:]
	return s
}

func (r *extractReader) float() float64 {
	if len(r.left) < 8 {
		r.broken()
		return 0
	}
	bits := binary.LittleEndian.Uint64([]byte(r.left[:8]))
	r.left = r.left[8:]
	return math.Float64frombits(bits)
}

func (r *extractReader) time() time.Time {
	zigzag := uint64(r.number())
	at := int64(zigzag>>1) ^ -int64(zigzag&1)
	if at == 0 {
		return time.Time{}
	}
	return time.UnixMicro(at).UTC()
}

func (r *extractReader) label(l *Label) {
	l.CatalogueNumber, l.Country, l.Province, l.CollectedFrom, l.CollectedTo = r.text(), r.text(), r.text(), r.text(), r.text()
	l.Trip, l.Method, l.Habitat, l.Sex, l.Stage = r.text(), r.text(), r.text(), r.text(), r.text()
	count, err := strconv.Atoi(r.text())
	if err != nil {
		r.broken()
	}
	l.Count = count
	l.Preparation, l.MissingParts, l.StoragePlace, l.Disposition, l.HostPlant = r.text(), r.text(), r.text(), r.text(), r.text()
}

func (r *extractReader) end() error {
	if r.err == nil && r.left != "" {
		return errExtract
	}
	return r.err
}
