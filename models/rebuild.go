package models

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"revidit/migrations"
	"revidit/review"
	"revidit/review/service"
)

// streamsAtOnce bounds the memory of Rebuild.
const streamsAtOnce = 200

// Rebuild makes the rows of specimens, submissions, proposed cells, policies, of what people are like and of who has
// which photo again from the events, in one transaction. Other changes wait for it; readers see the former rows until it is done. Releases are not
// made but compared with their events: where they differ Rebuild changes nothing and returns an error.
func (db *DB) Rebuild(ctx context.Context) error {
	nothing := func(*gorm.DB) error { return nil }
	return db.rebuild(ctx, nothing, nothing)
}

// rebuild is Rebuild with something before and after it in the same transaction.
func (db *DB) rebuild(ctx context.Context, before, after func(*gorm.DB) error) error {
	return db.write(service.Unhurried(ctx), func(tx *gorm.DB) error {
		if db.dialect == migrations.Postgres { // SQLite has one writer anyway
			if err := tx.Exec("LOCK TABLE events IN SHARE ROW EXCLUSIVE MODE").Error; err != nil {
				return fmt.Errorf("keep others from writing: %w", err)
			}
		}
		if err := before(tx); err != nil {
			return err
		}
		for _, statement := range []string{"DELETE FROM policies", "DELETE FROM reliability_people", "DELETE FROM reliabilities", "DELETE FROM openings", "DELETE FROM printed_labels", "DELETE FROM sheets", "DELETE FROM grounds", "DELETE FROM extracts", "DELETE FROM closings", "UPDATE uploads SET specimen_id = NULL"} {
			if err := tx.Exec(statement).Error; err != nil {
				return fmt.Errorf("clear what is made again: %w", err)
			}
		}
		// Specimens first: submissions and photos refer to them.
		for _, kind := range []struct {
			prefix string
			make   func(*gorm.DB, [][]review.Event) error
		}{
			{review.SpecimenStream(""), rebuildSpecimens},
			{review.SubmissionStream(""), db.rebuildSubmissions},
			{openingStreams, rebuildOpenings},
			{review.PolicyStream, rebuildPolicies},
			{review.ProposalStream(""), rebuildProposals},
			{review.SeriesStream(""), rebuildSeries},
			{review.SheetStream(""), rebuildSheets},
			{review.TablesStream(""), checkReleases},
		} {
			if err := eachStream(tx, kind.prefix, kind.make); err != nil {
				return err
			}
		}
		if err := rebuildVersions(tx); err != nil {
			return err
		}
		if err := rebuildTestimonies(tx); err != nil {
			return err
		}
		if err := rebuildClosings(tx); err != nil {
			return err
		}
		if err := eachStream(tx, review.ReliabilityStream(""), db.rebuildReliabilities); err != nil {
			return err
		}
		if err := checkUnpublished(tx); err != nil {
			return err
		}
		if err := deleteUnmade(tx); err != nil {
			return err
		}
		if err := rebuildTree(tx); err != nil {
			return err
		}
		if err := db.placeLost(tx); err != nil {
			return err
		}
		return after(tx)
	})
}

// eachStream hands over the events of all streams that begin with a prefix, some streams at a time.
func eachStream(tx *gorm.DB, prefix string, use func(*gorm.DB, [][]review.Event) error) error {
	after := ""
	for {
		var names []string
		err := tx.Model(&eventRow{}).Where("seq = 1 AND stream > ? AND stream LIKE ?", after, prefix+"%").
			Order("stream").Limit(streamsAtOnce).Pluck("stream", &names).Error
		if err != nil {
			return fmt.Errorf("list streams: %w", err)
		}
		if len(names) == 0 {
			return nil
		}
		after = names[len(names)-1]
		streams, err := eventsOf(tx, names)
		if err != nil {
			return err
		}
		if err := use(tx, streams); err != nil {
			return err
		}
	}
}

func eventsOf(tx *gorm.DB, streams []string) ([][]review.Event, error) {
	var rows []eventRow
	if err := tx.Where("stream IN ?", streams).Order("stream, seq").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read events: %w", err)
	}
	events, err := fromRows(rows, eventRow.fromRow)
	if err != nil {
		return nil, err
	}
	var grouped [][]review.Event
	for i, e := range events {
		if i == 0 || events[i-1].Stream != e.Stream {
			grouped = append(grouped, nil)
		}
		last := &grouped[len(grouped)-1]
		*last = append(*last, e)
	}
	return grouped, nil
}

func rebuildSpecimens(tx *gorm.DB, streams [][]review.Event) error {
	var rows []specimenRow
	var specimens []review.Specimen
	attach := map[string]string{}
	for _, events := range streams {
		specimen, err := review.ReplaySpecimen(events)
		if err != nil {
			return err
		}
		specimens = append(specimens, specimen)
		for _, photo := range specimen.Photos {
			attach[photo.ID] = specimen.ID
		}
		row, err := toSpecimenRow(specimen)
		if err != nil {
			return err
		}
		rows = append(rows, row)
	}
	if err := replace(tx, "specimens", rows); err != nil {
		return err
	}
	if err := storeGrounds(tx, groundsOf(specimens, nil)); err != nil {
		return err
	}
	if err := storeExtracts(tx, extractsOf(specimens, nil)); err != nil {
		return err
	}
	return attachUploads(tx, attach)
}

func (db *DB) rebuildSubmissions(tx *gorm.DB, streams [][]review.Event) error {
	submissions, err := toRows(streams, review.ReplaySubmission)
	if err != nil {
		return err
	}
	rows, err := toRows(submissions, toSubmissionRow)
	if err != nil {
		return err
	}
	if err := replace(tx, "submissions", rows); err != nil {
		return err
	}
	if err := storeGrounds(tx, groundsOf(nil, submissions)); err != nil {
		return err
	}
	if err := storeExtracts(tx, extractsOf(nil, submissions)); err != nil {
		return err
	}
	var said sayings
	for i, s := range submissions {
		if err := db.replaceEntries(tx, s, labels{}); err != nil {
			return err
		}
		said.of, said.rows = append(said.of, s.ID), append(said.rows, toSaidRows(&submissions[i])...)
	}
	if err := said.store(tx); err != nil {
		return err
	}
	return rebuildJudged(tx, said.of, streams)
}

func rebuildPolicies(tx *gorm.DB, streams [][]review.Event) error {
	for _, events := range streams {
		var rows []policyRow
		for _, e := range events {
			set, ok := e.Change.(*review.PolicySet)
			if !ok {
				return fmt.Errorf("%s: event %d is %T, not the policy's", e.Stream, e.Seq, e.Change)
			}
			row, err := toPolicyRow(set.Policy)
			if err != nil {
				return err
			}
			rows = append(rows, row)
		}
		if err := insert(tx, "policies", rows); err != nil {
			return err
		}
	}
	return nil
}

// rebuildVersions counts the events of each specimen with its submissions.
func rebuildVersions(tx *gorm.DB) error {
	const count = "UPDATE specimens SET version = seq + COALESCE((SELECT sum(s.seq) FROM submissions AS s WHERE s.specimen_id = specimens.id), 0)"
	if err := tx.Exec(count).Error; err != nil {
		return fmt.Errorf("count the events of specimens: %w", err)
	}
	return nil
}

// deleteUnmade removes rows that no events make.
func deleteUnmade(tx *gorm.DB) error {
	for _, statement := range []string{
		"DELETE FROM submissions WHERE 'submission/' || id NOT IN (SELECT stream FROM events WHERE seq = 1)",
		"DELETE FROM cell_proposals WHERE 'cell-proposal/' || id NOT IN (SELECT stream FROM events WHERE seq = 1)",
		"DELETE FROM series WHERE 'series/' || id NOT IN (SELECT stream FROM events WHERE seq = 1)",
		"DELETE FROM specimens WHERE 'specimen/' || id NOT IN (SELECT stream FROM events WHERE seq = 1)",
	} {
		if err := tx.Exec(statement).Error; err != nil {
			return fmt.Errorf("remove rows without events: %w", err)
		}
	}
	return nil
}
