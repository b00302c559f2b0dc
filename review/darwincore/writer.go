package darwincore

import (
	"archive/zip"
	"bufio"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"time"

	"github.com/klauspost/compress/flate"

	"revidit/review"
)

// Spool is room for a file that is being written: what was written is read from its beginning.
type Spool interface {
	io.Writer
	// Rewind ends writing.
	Rewind() (io.Reader, error)
}

// Counts are the rows of an archive.
type Counts struct {
	Occurrences     int `json:"occurrences"`
	Identifications int `json:"identifications"`
	Media           int `json:"media"` // photos and regions
}

// Writer writes an archive record by record. The same records and options give the same bytes.
type Writer struct {
	options Options
	book    Book
	about   about
	counts  Counts
	files   [3]*member // occurrences, identifications, media
	rows    [3][]string
	batches chan [3][]byte
	free    chan [3][]byte
	done    chan error
	buffers [3][]byte
}

// Names of the files in an archive.
var fileNames = [3]string{"occurrence.csv", "identification.csv", "multimedia.csv"}

var (
	fileTypes = [3]string{typeOccurrence, typeIdentification, typeMultimedia}
	fileTerms = [3][]string{occurrenceTerms, historyTerms, mediaTerms}
)

// buffered bytes of a file go to be compressed at once.
const buffered = 1 << 18

// NewWriter begins an archive; spool gives room for each of its files. Whoever begins one closes it, or aborts.
func NewWriter(o Options, book Book, spool func() (Spool, error)) (*Writer, error) {
	w := &Writer{options: o, book: book, batches: make(chan [3][]byte, 1), free: make(chan [3][]byte, 2), done: make(chan error, 1)}
	w.about.Options = &w.options
	for i := range w.files {
		room, err := spool()
		if err != nil {
			return nil, err
		}
		if w.files[i], err = newMember(room); err != nil {
			return nil, err
		}
		w.rows[i] = make([]string, len(fileTerms[i]))
		w.buffers[i] = make([]byte, 0, 2*buffered)
		names := make([]string, len(fileTerms[i]))
		for j, term := range fileTerms[i] {
			names[j] = shortName(term)
		}
		w.buffers[i] = appendRow(w.buffers[i], names)
	}
	for range cap(w.free) {
		var spare [3][]byte
		for i := range spare {
			spare[i] = make([]byte, 0, 2*buffered)
		}
		w.free <- spare
	}
	go func() { w.done <- w.compress() }()
	return w, nil
}

// compress takes what is written while more is being made.
func (w *Writer) compress() (err error) {
	for batch := range w.batches {
		for i := range batch {
			if err == nil {
				_, err = w.files[i].Write(batch[i])
			}
			batch[i] = batch[i][:0]
		}
		w.free <- batch
	}
	return err
}

// Append adds a record; one that is not to leave the house is left out.
func (w *Writer) Append(r *Record) error {
	all := identificationsOf(r, w.book)
	if !w.leaves(r, all) {
		return nil
	}
	clear(w.rows[0])
	putOccurrence(w.rows[0], r, all, &w.options, w.book)
	w.buffers[0] = appendRow(w.buffers[0], w.rows[0])
	w.buffers[1] = appendIdentifications(w.buffers[1], w.rows[1], w.rows[0][oID], all)
	w.counts.Occurrences++
	w.counts.Identifications += len(all)
	if w.options.Media {
		var n int
		w.buffers[2], n = appendMedia(w.buffers[2], w.rows[2], r, gridOf(all, w.options.Places), &w.options, w.book)
		w.counts.Media += n
	}
	w.about.collected(r.Specimen.Label.CollectedFrom, r.Specimen.Label.CollectedTo)
	w.changed(r)
	for i := range w.buffers {
		if len(w.buffers[i]) >= buffered {
			return w.hand()
		}
	}
	return nil
}

// leaves: of an intake that was undone nothing does, nor what nobody has given a name, nor, unless that is asked for, what is open.
func (w *Writer) leaves(r *Record, all []identification) bool {
	if o := r.Specimen.Origin; o != nil && o.Undone != "" || len(all) == 0 {
		return false
	}
	if w.options.Unsettled {
		return true
	}
	for i := range all {
		if all[i].accepted {
			return all[i].standing > standsProposed
		}
	}
	return false
}

func (w *Writer) changed(r *Record) {
	at := r.Specimen.ChangedAt
	for i := range r.Submissions {
		if r.Submissions[i].ChangedAt.After(at) {
			at = r.Submissions[i].ChangedAt
		}
	}
	if at.After(w.about.changed) {
		w.about.changed = at
	}
}

// hand gives what is written to be compressed.
func (w *Writer) hand() error {
	select {
	case err := <-w.done: // it ends early on no error of ours
		w.done <- err
		return err
	case w.batches <- w.buffers:
		w.buffers = <-w.free
		return nil
	}
}

// Abort ends an archive that is not wanted any more.
func (w *Writer) Abort() {
	close(w.batches)
	<-w.done
}

// Close writes the archive.
func (w *Writer) Close(to io.Writer) (Counts, error) {
	err := w.hand()
	close(w.batches)
	if err = errors.Join(err, <-w.done); err != nil {
		return w.counts, err
	}
	archive := zip.NewWriter(to)
	for i, m := range w.files {
		if i == 2 && !w.options.Media {
			break
		}
		if err := m.close(archive, fileNames[i]); err != nil {
			return w.counts, fmt.Errorf("write %s: %w", fileNames[i], err)
		}
	}
	w.about.id = w.digest()
	for _, f := range []struct {
		name  string
		write func(io.Writer) error
	}{{emlName, w.about.write}, {metaName, w.meta().Write}} {
		into, err := archive.CreateHeader(&zip.FileHeader{Name: f.name, Method: zip.Deflate, Modified: archiveTime})
		if err != nil {
			return w.counts, err
		}
		if err := f.write(into); err != nil {
			return w.counts, err
		}
	}
	return w.counts, archive.Close()
}

// archiveTime is that of every file, the earliest that the format has: the same content gives the same bytes.
var archiveTime = time.Date(1980, time.January, 1, 0, 0, 0, 0, time.UTC)

// meta describes the files.
func (w *Writer) meta() *Meta {
	m := &Meta{Metadata: emlName}
	for i := range fileNames {
		f := File{RowType: fileTypes[i], Locations: []string{fileNames[i]}, Encoding: "UTF-8", Terminated: ",", Lines: "\n", Enclosed: `"`, Header: 1}
		for j, term := range fileTerms[i] {
			f.Fields = append(f.Fields, Field{Index: j, Term: term})
		}
		switch {
		case i == 0:
			m.Core = f
		case i < 2 || w.options.Media:
			m.Extensions = append(m.Extensions, f)
		}
	}
	return m
}

func (w *Writer) digest() (id [16]byte) {
	h := sha256.New()
	for _, m := range w.files {
		h.Write(binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint32(nil, m.crc), uint64(m.size)))
	}
	for _, text := range []string{w.options.Title, w.options.Organization, w.options.Contact} {
		h.Write([]byte(text + "\x00"))
	}
	copy(id[:], h.Sum(nil))
	return id
}

// member is a file on its way into an archive, compressed already.
type member struct {
	room    Spool
	packer  *flate.Writer
	crc     uint32
	size    int64
	buffer  *bufio.Writer
	counted countedWriter
}

type countedWriter struct {
	to io.Writer
	n  int64
}

func (c *countedWriter) Write(p []byte) (int, error) {
	n, err := c.to.Write(p)
	c.n += int64(n)
	return n, err
}

// speed is the level of DEFLATE: of rows, higher ones gain little and take several times as long.
const speed = 1

func newMember(room Spool) (m *member, err error) {
	// The compressor writes a few hundred bytes at a time.
	m = &member{room: room, buffer: bufio.NewWriterSize(room, buffered)}
	m.counted.to = m.buffer
	m.packer, err = flate.NewWriter(&m.counted, speed)
	return m, err
}

func (m *member) Write(p []byte) (int, error) {
	m.crc = crc32.Update(m.crc, crc32.IEEETable, p)
	m.size += int64(len(p))
	return m.packer.Write(p)
}

func (m *member) close(archive *zip.Writer, name string) error {
	if err := errors.Join(m.packer.Close(), m.buffer.Flush()); err != nil {
		return err
	}
	from, err := m.room.Rewind()
	if err != nil {
		return err
	}
	into, err := archive.CreateRaw(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: archiveTime, CRC32: m.crc, CompressedSize64: uint64(m.counted.n), UncompressedSize64: uint64(m.size)})
	if err != nil {
		return err
	}
	_, err = io.Copy(into, from)
	return err
}

// Check adds what is wrong with the options.
func (o *Options) Check(p *review.Problems) {
	review.CheckText(p, "title", o.Title, 1, 200)
	review.CheckText(p, "organization", o.Organization, 1, 200)
	for _, f := range []struct{ name, text string }{{"contact", o.Contact}, {"rights_holder", o.RightsHolder}, {"institution", o.Institution}, {"collection", o.Collection}} {
		review.CheckText(p, f.name, f.text, 0, 200)
	}
	for _, known := range Licences {
		if o.License == known {
			return
		}
	}
	p.Addf("license", "choose a licence")
}
