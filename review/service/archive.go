package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"slices"

	"revidit/review"
	"revidit/review/darwincore"
)

// HandedOver is what an archive holds.
type HandedOver struct {
	darwincore.Counts
	// Unread are streams of what could not be read and is not in it.
	Unread []string
}

// extractsAtOnce bounds the memory of an archive: specimens and submissions that are read at once.
const extractsAtOnce = 4000

// HandOver writes an archive of everything that may leave the house. Its files stand in the folder for temporary ones until they are
// whole, so that memory does not grow with the collection. That it is handed over, with its digest, is an event; where that cannot be
// stored there is an error, and what was written must not go out. told is called with how many specimens were looked at; nil is nobody.
func (s *Service) HandOver(ctx context.Context, actor review.Actor, o darwincore.Options, to io.Writer, told func(done, total int)) (made HandedOver, err error) {
	if !review.May(actor, review.ActHandOver, "") {
		return made, review.Forbidden(actor, review.ActHandOver, "")
	}
	var problems review.Problems
	if o.Check(&problems); len(problems) > 0 {
		return made, problems.Err()
	}
	policy, err := s.Policy(ctx)
	if err != nil {
		return made, err
	}
	o.Places = policy.Places
	book, err := s.newArchiveBook(ctx)
	if err != nil {
		return made, err
	}
	book.media = o.Media
	total, err := s.completeExtracts(ctx)
	if err != nil {
		return made, err
	}
	rooms := spools{folder: s.receiver.folder}
	defer func() { err = errors.Join(err, rooms.remove()) }()
	w, err := darwincore.NewWriter(o, book, rooms.next)
	if err != nil {
		return made, err
	}
	if err := s.writeExtracts(ctx, w, book, func(done int) {
		if told != nil {
			told(done, total)
		}
	}, &made); err != nil {
		w.Abort()
		return made, err
	}
	digest := sha256.New()
	if made.Counts, err = w.Close(io.MultiWriter(to, digest)); err != nil {
		return made, err
	}
	return made, s.recordHandover(ctx, actor, &review.ArchiveHandedOver{Format: FormatArchive, SHA256: hex.EncodeToString(digest.Sum(nil)), License: o.License, Policy: policy.Version,
		Collectors: o.Collectors, Occurrences: made.Occurrences, Identifications: made.Identifications, Media: made.Media})
}

// recordHandover notes what leaves the house before it does.
func (s *Service) recordHandover(ctx context.Context, actor review.Actor, c *review.ArchiveHandedOver) error {
	w := review.NewWriter(s.moment(actor))
	c.ID = w.Moment.NewID()
	w.Handover(c)
	return s.commit(ctx, w)
}

// Handovers are the archives that were handed over, the latest first, at most a thousand, with the names of who did it.
func (s *Service) Handovers(ctx context.Context, actor review.Actor) ([]review.Handover, map[string]string, error) {
	if !review.May(actor, review.ActHandOver, "") {
		return nil, nil, review.Forbidden(actor, review.ActHandOver, "")
	}
	const most = 1000
	made, err := s.store.FindHandovers(ctx, most)
	if err != nil {
		return nil, nil, err
	}
	persons := make([]string, 0, len(made))
	for _, h := range made {
		persons = append(persons, h.By)
	}
	names, err := s.names(ctx, persons)
	return made, names, err
}

// completeExtracts makes those of the time before there were any, and returns how many specimens there are.
func (s *Service) completeExtracts(ctx context.Context) (int, error) {
	for {
		made, err := s.store.CompleteExtracts(ctx)
		if err != nil {
			return 0, err
		}
		if made == 0 {
			return s.store.CountExtracts(ctx)
		}
	}
}

// extractsPage is a page as it was read.
type extractsPage struct {
	rows []Extracted
	err  error
}

// writeExtracts writes all records while the next ones are read.
func (s *Service) writeExtracts(ctx context.Context, w *darwincore.Writer, book *archiveBook, told func(done int), made *HandedOver) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	pages := make(chan extractsPage, 1)
	go func() {
		defer close(pages)
		for after := ""; ; {
			rows, next, err := s.store.FindExtracts(ctx, after, extractsAtOnce)
			select {
			case pages <- extractsPage{rows, err}:
			case <-ctx.Done():
				return
			}
			if after = next; err != nil || next == "" {
				return
			}
		}
	}()
	done := 0
	for page := range pages {
		if page.err != nil {
			return page.err
		}
		records, unread := recordsOf(page.rows)
		made.Unread = append(made.Unread, unread...)
		if err := s.knowPeople(ctx, book, records); err != nil {
			return err
		}
		for i := range records {
			if err := w.Append(&records[i]); err != nil {
				return err
			}
		}
		done += len(records)
		told(done)
	}
	return ctx.Err()
}

// recordsOf puts rows together; of a specimen of which something cannot be read nothing is written.
func recordsOf(rows []Extracted) (records []darwincore.Record, unread []string) {
	records = make([]darwincore.Record, 0, len(rows)/2+1)
	for at := 0; at < len(rows); {
		end := at + 1
		for end < len(rows) && rows[end].Specimen == rows[at].Specimen {
			end++
		}
		record, stream := recordOf(rows[at:end])
		if stream != "" {
			unread = append(unread, stream)
		} else {
			records = append(records, record)
		}
		at = end
	}
	return records, unread
}

// recordOf is the record of one specimen, or the stream of what cannot be read of it.
func recordOf(rows []Extracted) (r darwincore.Record, unread string) {
	var err error
	stream := review.SpecimenStream(rows[0].Specimen)
	if r.Specimen, err = rows[0].DecodeSpecimen(); err != nil || rows[0].Submission != "" {
		return r, stream
	}
	if rows[0].Sealed != "" {
		w, err := review.WithheldRecord{ID: rows[0].Withheld, Salt: rows[0].Salt, Body: rows[0].Sealed}.Open(r.Specimen.Withholding)
		if err != nil {
			return r, stream
		}
		r.Withheld = &w
	}
	for i := range rows[1:] {
		sub, err := rows[1+i].DecodeSubmission()
		if err != nil {
			return r, review.SubmissionStream(rows[1+i].Submission)
		}
		r.Submissions = append(r.Submissions, sub)
	}
	return r, ""
}

// archiveBook tells an archive what stands elsewhere than in its records.
type archiveBook struct {
	people map[string]string
	higher map[string]darwincore.Higher
	groups map[string][2]string // taxon and rank
	views  map[string][2]string // part and orientation
	media  bool                 // photos are told of
}

func (b *archiveBook) Person(id string) string { return b.people[id] }

func (b *archiveBook) Higher(taxon string) darwincore.Higher { return b.higher[taxon] }

func (b *archiveBook) Group(id string) (taxon, rank string) { return b.groups[id][0], b.groups[id][1] }

func (b *archiveBook) View(view string) (part, orientation string) {
	return b.views[view][0], b.views[view][1]
}

// newArchiveBook reads from the tables what stands above a family: the taxon of its group, and that of the wider one.
func (s *Service) newArchiveBook(ctx context.Context) (*archiveBook, error) {
	b := &archiveBook{people: map[string]string{"": ""}, higher: map[string]darwincore.Higher{}, groups: map[string][2]string{}, views: map[string][2]string{}}
	judges, err := s.Groups(ctx)
	if err != nil {
		return nil, err
	}
	taxa := map[string]string{}
	for _, j := range judges {
		taxa[j.Tables().Group.ID] = j.Tables().Group.Taxon
	}
	for _, j := range judges {
		g := &j.Tables().Group
		b.groups[g.ID] = [2]string{g.Taxon, g.Rank}
		for _, v := range g.Views {
			b.views[v.ID] = [2]string{v.Part, v.Orientation}
		}
		if g.Rank != "family" {
			continue
		}
		above := darwincore.Higher{Class: taxa[g.Within], Order: g.Taxon}
		if above.Class == "Insecta" || above.Class == "" && g.Within == "insect-orders" {
			above.Kingdom, above.Phylum, above.Class = "Animalia", "Arthropoda", "Insecta"
		}
		b.higher[g.Taxon] = above
		for i := range j.Tables().Families {
			b.higher[j.Tables().Families[i].Name] = above
		}
	}
	return b, nil
}

// knowPeople reads the names of those who are met for the first time.
func (s *Service) knowPeople(ctx context.Context, b *archiveBook, records []darwincore.Record) error {
	var ids []string
	meet := func(id string) {
		if _, known := b.people[id]; !known {
			b.people[id] = ""
			ids = append(ids, id)
		}
	}
	for i := range records {
		r := &records[i]
		for j := range r.Submissions {
			sub := &r.Submissions[j]
			meet(sub.Determination.Determiner)
			meet(sub.UndeterminedBy)
			for k := range sub.Opinions {
				meet(sub.Opinions[k].By)
			}
		}
		for j := range r.Specimen.Slips {
			for _, id := range r.Specimen.Slips[j].Determiners {
				meet(id)
			}
		}
		for j := range r.Specimen.Photos[:b.photos(r)] {
			meet(r.Specimen.Photos[j].By)
		}
	}
	// A database prepares a statement for each number of ids: most are of the same.
	for some := range slices.Chunk(ids, peopleAtOnce) {
		people, err := s.store.People(ctx, some)
		if err != nil {
			return err
		}
		for id, p := range people {
			b.people[id] = p.Name
		}
	}
	return nil
}

const peopleAtOnce = 200

// photos are those of a record that are told of.
func (b *archiveBook) photos(r *darwincore.Record) int {
	if !b.media {
		return 0
	}
	return len(r.Specimen.Photos)
}

// spools are files for what is being written.
type spools struct {
	folder string
	files  []*spool
}

type spool struct{ *os.File }

// Rewind implements darwincore.Spool.
func (s *spool) Rewind() (io.Reader, error) {
	_, err := s.Seek(0, io.SeekStart)
	return s.File, err
}

func (s *spools) next() (darwincore.Spool, error) {
	if err := makeRoom(s.folder); err != nil {
		return nil, err
	}
	file, err := os.CreateTemp(s.folder, "revidit-archive-")
	if err != nil {
		return nil, err
	}
	s.files = append(s.files, &spool{file})
	return s.files[len(s.files)-1], nil
}

func (s *spools) remove() (err error) {
	for _, f := range s.files {
		err = errors.Join(err, f.Close(), os.Remove(f.Name()))
	}
	return err
}
