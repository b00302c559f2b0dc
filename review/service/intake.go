package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"path"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/darwincore"
	"revidit/review/jobs"
)

// IntakeSource reads specimens of somebody else out of a file of some format, in its order. Rows that cannot be read come with what is
// wrong with them; an error of Each is about the whole, or of visit.
type IntakeSource interface {
	Each(visit func(*review.Incoming) error) error
	// Summary is what was found beside the rows: what is wrong with the whole.
	Summary() review.IntakeSummary
}

// IntakeFile is a file that somebody wants to take in specimens from.
type IntakeFile struct {
	Name string
	From io.ReaderAt
	Size int64
}

// FormatArchive is the format of a Darwin Core archive.
const FormatArchive = "darwin-core-archive"

// MostIntake bounds a file, in bytes.
var MostIntake = darwincore.DefaultLimits.Packed

// plannedAtOnce rows are looked up and stored together.
const plannedAtOnce = 200

// PlanArchive reads a Darwin Core archive and plans what it would bring. Nothing of it becomes a specimen.
func (s *Service) PlanArchive(ctx context.Context, actor review.Actor, file IntakeFile) (review.Intake, error) {
	if !review.May(actor, review.ActTakeIn, "") {
		return review.Intake{}, review.Forbidden(actor, review.ActTakeIn, "")
	}
	archive, err := darwincore.Open(file.From, file.Size, darwincore.DefaultLimits)
	if err != nil {
		return review.Intake{}, review.Invalidf("file", "is no Darwin Core archive that can be taken in: %s", err)
	}
	source, err := archive.Read()
	if err != nil {
		return review.Intake{}, review.Invalidf("file", "is no Darwin Core archive that can be taken in: %s", err)
	}
	return s.plan(ctx, actor, file, FormatArchive, source)
}

// plan stores what a source tells of, row by row, for a curator to look at.
func (s *Service) plan(ctx context.Context, actor review.Actor, file IntakeFile, format string, source IntakeSource) (in review.Intake, err error) {
	m := s.moment(actor)
	if in, err = newIntake(m, file, format); err != nil {
		return in, err
	}
	return in, s.storePlan(ctx, m, &in, source, func() error {
		in.State = review.IntakePlanned
		return s.putIntake(ctx, m, review.IntakeBatch{Intake: in})
	})
}

// newIntake is one of which nothing is planned yet.
func newIntake(m review.Moment, file IntakeFile, format string) (in review.Intake, err error) {
	sum := sha256.New()
	if _, err := io.Copy(sum, io.NewSectionReader(file.From, 0, file.Size)); err != nil {
		return in, err
	}
	name := strings.ToValidUTF8(path.Base(strings.ReplaceAll(file.Name, `\`, "/")), "")
	return review.Intake{ID: m.NewID(), State: review.IntakeReading, File: string([]rune(name)[:min(len([]rune(name)), 200)]), Format: format,
		SHA256: hex.EncodeToString(sum.Sum(nil)), By: m.Actor.Person, At: m.Now}, nil
}

// storePlan stores the rows of an intake that is being read, and ends with whole, which lets it be seen. Of one that fails nothing stays.
func (s *Service) storePlan(ctx context.Context, m review.Moment, in *review.Intake, source IntakeSource, whole func() error) (err error) {
	id := in.ID
	defer func() {
		if err != nil {
			err = errors.Join(err, s.store.RemoveIntake(context.WithoutCancel(ctx), id))
		}
	}()
	var rows []*review.Incoming
	var broken error // an error of the store, not of the file
	store := func() error {
		broken = s.storePlanned(ctx, m, in, rows)
		rows = rows[:0]
		return broken
	}
	if err := s.putIntake(ctx, m, review.IntakeBatch{Intake: *in}); err != nil {
		return err
	}
	err = source.Each(func(row *review.Incoming) error {
		if rows = append(rows, row); len(rows) < plannedAtOnce {
			return nil
		}
		return store()
	})
	if broken != nil {
		return broken
	}
	if err != nil {
		return review.Invalidf("file", "cannot be read to its end: %s", err)
	}
	if err := store(); err != nil {
		return err
	}
	general := source.Summary()
	in.Told.Faults, in.Told.MoreFaults, in.Told.Unread = general.Faults, general.MoreFaults, general.Unread
	return whole()
}

// storePlanned counts and stores some rows; what is here already does not come twice.
func (s *Service) storePlanned(ctx context.Context, m review.Moment, in *review.Intake, rows []*review.Incoming) error {
	if err := s.refuseKnown(ctx, in.Format, rows); err != nil {
		return err
	}
	batch := review.IntakeBatch{}
	for _, row := range rows {
		in.Told.Count(row)
		batch.Rows = append(batch.Rows, review.PlannedRow{Number: row.Row, Faults: len(row.Faults), Refused: row.Refused, Incoming: *row})
	}
	batch.Intake = *in
	return s.putIntake(ctx, m, batch)
}

// refuseKnown refuses what is here already: by its identifier, and of the table of an old collection by its number too, since such tables
// have no identifiers.
func (s *Service) refuseKnown(ctx context.Context, format string, rows []*review.Incoming) error {
	var sources, numbers []string
	for _, row := range rows {
		sources = append(sources, row.Source)
		if format == FormatInventory {
			numbers = append(numbers, row.Label.CatalogueNumber)
		}
	}
	known, err := s.store.KnownSources(ctx, sources)
	if err != nil {
		return err
	}
	byNumber, err := s.store.KnownNumbers(ctx, numbers)
	if err != nil {
		return err
	}
	for _, row := range rows {
		switch number := row.Label.CatalogueNumber; {
		case row.Refused:
		case known[row.Source] != "":
			row.Fault(review.IntakeFault{Code: review.FaultHere, Row: row.Row, Value: row.Source})
		case byNumber[number] != "":
			row.Fault(review.IntakeFault{Code: review.FaultHere, Row: row.Row, Value: number})
		}
	}
	return nil
}

func (s *Service) putIntake(ctx context.Context, m review.Moment, batch review.IntakeBatch, asked ...jobs.Job) error {
	w := review.NewWriter(m)
	w.Batch.Intake, w.Batch.Jobs = &batch, asked
	return s.commit(ctx, w)
}

// Intakes are the latest.
func (s *Service) Intakes(ctx context.Context, actor review.Actor) ([]review.Intake, error) {
	if !review.May(actor, review.ActTakeIn, "") {
		return nil, review.Forbidden(actor, review.ActTakeIn, "")
	}
	const most = 100
	found, err := s.store.FindIntakes(ctx, most)
	for i := range found {
		found[i].Reading = nil // each tells it by itself
	}
	return found, err
}

// IntakeView is an intake with some of its rows.
type IntakeView struct {
	review.Intake
	Rows []review.PlannedRow `json:"rows" nullable:"false"`
	// Next is the number of the last row, where there are more; else 0.
	Next  int               `json:"next,omitempty" doc:"Give it as after for the next page"`
	Names map[string]string `json:"names"`
}

// Intake is one with a page of its rows behind a number; faulty: only those of which something is told.
func (s *Service) Intake(ctx context.Context, actor review.Actor, id string, faulty bool, after int) (v IntakeView, err error) {
	if !review.May(actor, review.ActTakeIn, "") {
		return v, review.Forbidden(actor, review.ActTakeIn, "")
	}
	if v.Intake, err = s.intake(ctx, id); err != nil {
		return v, err
	}
	const size = 50
	if v.Rows, err = s.store.FindPlanned(ctx, id, faulty, after, size); err != nil {
		return v, err
	}
	if len(v.Rows) == size {
		v.Next = v.Rows[size-1].Number
	}
	v.Names, err = s.names(ctx, []string{v.By, v.AcceptedBy, v.UndoneBy})
	return v, err
}

// intake is one with how far its job has come.
func (s *Service) intake(ctx context.Context, id string) (review.Intake, error) {
	in, err := s.store.Intake(ctx, id)
	if err != nil {
		return in, err
	}
	if in.State == review.IntakeReading {
		return in, review.Errorf(review.KindNotFound, "There is no such intake, or it was not accepted in time: send the file again.")
	}
	kind := jobs.KindTakeIn
	if in.State == review.IntakeUndone {
		kind = jobs.KindTakeBack
	}
	if in.Whole || in.State == review.IntakePlanned {
		return in, nil
	}
	in.Walk, err = s.walkOf(ctx, jobs.Job{Kind: kind, Key: id})
	return in, err
}

// takingIn are the arguments of both jobs. By its salt one name becomes one person, and nobody can tell the name from the id later.
type takingIn struct {
	Intake string       `json:"intake"`
	By     review.Actor `json:"by"`
	Salt   []byte       `json:"salt"`
}

// AcceptIntake takes in what was planned, by a job: the plan of that number, or review.AnyPlan.
func (s *Service) AcceptIntake(ctx context.Context, actor review.Actor, id string, plan int) (jobs.Job, error) {
	in, err := s.intake(ctx, id)
	if err != nil {
		return jobs.Job{}, err
	}
	m := s.moment(actor)
	if in, err = review.DecideAccept(m, in, plan); err != nil {
		return jobs.Job{}, err
	}
	job := jobs.TakeIn(id, takingIn{Intake: id, By: actor, Salt: newSalt()})
	in.Walk = nil
	return job, s.putIntake(ctx, m, review.IntakeBatch{Intake: in}, job)
}

// UndoIntake takes back what an intake has brought, by a job: as one act, but for what something was done with since.
func (s *Service) UndoIntake(ctx context.Context, actor review.Actor, id, reason string) (jobs.Job, error) {
	in, err := s.intake(ctx, id)
	if err != nil {
		return jobs.Job{}, err
	}
	m := s.moment(actor)
	if in, err = review.DecideUndo(m, in, reason); err != nil {
		return jobs.Job{}, err
	}
	job := jobs.TakeBack(id, takingIn{Intake: id, By: actor})
	in.Walk = nil
	return job, s.putIntake(ctx, m, review.IntakeBatch{Intake: in}, job)
}

// takingAt is the cursor of both jobs.
type takingAt struct {
	After int `json:"after"` // number of the row
	Kept  int `json:"kept"`
}

// intakeSlice does the next rows of an intake.
func (s *Service) intakeSlice(ctx context.Context, slice jobs.Slice, rows func(context.Context, *review.Writer, takingIn, review.Intake, []review.PlannedRow) (kept int, err error)) (JobStep, error) {
	args, err := jobs.Decode[takingIn](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	in, err := s.store.Intake(ctx, args.Intake)
	wanted := map[jobs.Kind]review.IntakeState{jobs.KindTakeIn: review.IntakeAccepted, jobs.KindTakeBack: review.IntakeUndone}[slice.Kind]
	if err != nil || in.Whole || in.State != wanted {
		return JobStep{}, err // somebody else has done it
	}
	var at takingAt
	if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	found, err := s.store.FindPlanned(ctx, in.ID, false, at.After, plannedAtOnce)
	if err != nil {
		return JobStep{}, err
	}
	w := review.NewWriter(s.moment(args.By))
	kept, err := rows(ctx, w, args, in, found)
	if err != nil {
		return JobStep{}, err
	}
	at.Kept += kept
	step := JobStep{Done: slice.Done + len(found), Total: in.Told.Rows, More: len(found) == plannedAtOnce}
	if step.More {
		at.After = found[len(found)-1].Number
		if step.Cursor, err = encode(at); err != nil {
			return step, err
		}
	}
	in.Whole = !step.More
	if in.Kept = at.Kept; w.Batch.Intake == nil {
		w.Batch.Intake = &review.IntakeBatch{}
	}
	w.Batch.Intake.Intake = in
	step.Batch = w.Finished()
	return step, nil
}

// takeInSlice registers the next specimens, with all that came with them.
func (s *Service) takeInSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	return s.intakeSlice(ctx, slice, func(ctx context.Context, w *review.Writer, args takingIn, in review.Intake, rows []review.PlannedRow) (int, error) {
		w.Batch.Intake = &review.IntakeBatch{Taken: map[int]string{}}
		var incoming []*review.Incoming
		for i := range rows {
			if !rows[i].Refused && rows[i].Specimen == "" {
				incoming = append(incoming, &rows[i].Incoming)
			}
		}
		if err := s.refuseKnown(ctx, in.Format, incoming); err != nil { // it may have come by another intake meanwhile
			return 0, err
		}
		people := namesakes{salt: args.Salt, known: map[string]bool{}}
		for _, row := range incoming {
			if row.Refused {
				continue
			}
			id, err := s.takeIn(w, in, row, &people)
			if err != nil {
				return 0, err
			}
			w.Batch.Intake.Taken[row.Row] = id
		}
		return 0, s.onlyNew(ctx, w)
	})
}

// namesakes makes a person without an account of each name.
type namesakes struct {
	salt  []byte
	known map[string]bool
}

func (n *namesakes) person(w *review.Writer, name string) string {
	sum := sha256.Sum256(append(slices.Clone(n.salt), name...))
	sum[6], sum[8] = sum[6]&0x0f|0x80, sum[8]&0x3f|0x80 // RFC 9562, section 5.8
	digits := hex.EncodeToString(sum[:16])
	id := digits[:8] + "-" + digits[8:12] + "-" + digits[12:16] + "-" + digits[16:20] + "-" + digits[20:]
	if !n.known[id] {
		n.known[id] = true
		w.Batch.People = append(w.Batch.People, review.Person{ID: id, Name: name})
	}
	return id
}

// onlyNew leaves those alone who were stored with an earlier slice: their name may have been erased since.
func (s *Service) onlyNew(ctx context.Context, w *review.Writer) error {
	ids := make([]string, len(w.Batch.People))
	for i, p := range w.Batch.People {
		ids[i] = p.ID
	}
	stored, err := s.store.People(ctx, ids)
	w.Batch.People = slices.DeleteFunc(w.Batch.People, func(p review.Person) bool { _, known := stored[p.ID]; return known })
	return err
}

// takeIn writes the events of one specimen, and returns its id.
func (s *Service) takeIn(w *review.Writer, in review.Intake, row *review.Incoming, people *namesakes) (string, error) {
	spec := &review.Specimen{}
	registered := &review.SpecimenRegistered{ID: w.Moment.NewID(), Label: row.Label}
	if row.Withheld != (review.Withheld{}) {
		record, mark, err := review.Withhold(w.Moment.NewID(), newSalt(), row.Withheld)
		if err != nil {
			return "", err
		}
		registered.Withholding, w.Batch.Withheld = mark, append(w.Batch.Withheld, record)
	}
	taken := &review.TakenIn{Intake: in.ID, File: in.File, Source: row.Source, Described: row.Described}
	for _, slip := range row.Slips {
		for _, name := range slip.By {
			slip.Determiners = append(slip.Determiners, people.person(w, name))
		}
		if slip.ID == "" {
			slip.ID = "urn:uuid:" + w.Moment.NewID()
		}
		taken.Slips = append(taken.Slips, slip.Slip)
	}
	if len(row.Rest) > 0 {
		text, err := encode(row.Rest)
		if err != nil {
			return "", err
		}
		record, mark := review.WithholdText(w.Moment.NewID(), newSalt(), string(text))
		taken.Rest, w.Batch.Withheld = mark, append(w.Batch.Withheld, record)
	}
	for _, change := range []review.Change{registered, taken} {
		if err := w.Specimen(spec, change); err != nil {
			return "", err
		}
	}
	return spec.ID, nil
}

// eventsOfIntake are how many events of a specimen its intake has written.
const eventsOfIntake = 2

// takeBackSlice takes the next specimens back. One with which something was done since stays.
func (s *Service) takeBackSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	return s.intakeSlice(ctx, slice, func(ctx context.Context, w *review.Writer, _ takingIn, in review.Intake, rows []review.PlannedRow) (kept int, err error) {
		policy, err := s.store.Policy(ctx)
		if err != nil {
			return 0, err
		}
		w.Batch.Rests = &review.Rests{Versions: map[string]int{}, Policy: policy.Version}
		for _, row := range rows {
			if row.Specimen == "" {
				continue
			}
			spec, err := s.store.Specimen(ctx, row.Specimen)
			if err != nil {
				return kept, err
			}
			if spec.Undone() {
				continue
			}
			submissions, err := s.store.SubmissionsOf(ctx, spec.ID)
			if err != nil {
				return kept, err
			}
			if spec.Seq != eventsOfIntake || len(submissions) > 0 {
				kept++
				continue
			}
			w.Batch.Rests.Versions[spec.ID] = review.RecordVersion(&spec, submissions)
			if err := w.Specimen(&spec, &review.TakenOut{Reason: in.UndoneWhy}); err != nil {
				return kept, err
			}
		}
		return kept, nil
	})
}

// Vouch lets a curator vouch for a level of verification or a type status of a determination.
func (s *Service) Vouch(ctx context.Context, actor review.Actor, specimen string, version int, form review.VouchForm) (review.Specimen, error) {
	return s.onSpecimen(ctx, actor, specimen, version, review.ActVouch, func(w *review.Writer, b *Basis) (review.Change, error) {
		return review.DecideVouch(w.Moment, &b.Specimen, b.Submissions, form)
	})
}

// rest is what came with a specimen and has no place here; nothing where it was erased.
func (s *Service) rest(ctx context.Context, spec *review.Specimen) ([]review.RestValue, error) {
	if spec.Origin == nil || spec.Origin.Rest.ID == "" {
		return nil, nil
	}
	found, err := s.store.Withheld(ctx, []string{spec.Origin.Rest.ID})
	if err != nil {
		return nil, err
	}
	record, kept := found[spec.Origin.Rest.ID]
	if !kept {
		return nil, nil
	}
	return record.OpenRest(spec.Origin.Rest)
}
