package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"revidit/auth"
	"revidit/models"
	"revidit/models/blob"
	"revidit/review"
	"revidit/review/service"
)

// belonging is what the three places of a club say whose they are: they are kept apart, moved apart and restored apart, so
// that each carries the club's id and none is used with another club's.
type belonging struct {
	database, photos, key string // where they are, as people read it
	club                  models.Club
	mark                  string // of the photo folder; empty where it has none
	noPhotos              bool   // the folder is not there, or empty
	known                 bool   // a photo that the database knows is in it
	keyClub               string // of the key file; empty where it has none
	noKey                 bool   // the key file is not there
}

// photoFolder and keyFile are where they are in a data folder.
func photoFolder(data string) string { return filepath.Join(data, "photos") }
func keyFile(data string) string     { return filepath.Join(data, "token.key") }

// belongingOf looks and makes nothing. db is nil where the database is not there yet.
func belongingOf(ctx context.Context, db *models.DB, at location, database string) (b belonging, err error) {
	b = belonging{database: database, photos: photoFolder(at.data), key: at.keys, club: models.Club{Empty: true}}
	if db != nil {
		if b.club, err = db.Club(ctx); err != nil {
			return b, err
		}
	}
	if err := b.lookAtPhotos(ctx); err != nil {
		return b, err
	}
	ring, err := auth.LoadKeys(b.key)
	if b.noKey = errors.Is(err, fs.ErrNotExist); b.noKey {
		return b, nil
	}
	if err != nil {
		return b, err
	}
	b.keyClub = ring.Club
	return b, nil
}

func (b *belonging) lookAtPhotos(ctx context.Context) error {
	if _, err := os.Stat(b.photos); errors.Is(err, fs.ErrNotExist) {
		b.noPhotos = true
		return nil
	}
	dir, err := blob.OpenDir(b.photos)
	if err != nil {
		return err
	}
	defer dir.Close()
	if b.mark, err = dir.Mark(); err != nil {
		return err
	}
	if b.noPhotos, err = dir.Empty(ctx); err != nil {
		return err
	}
	for _, digest := range b.club.Photos {
		body, err := dir.Open(ctx, service.OriginalName(digest))
		if review.KindOf(err) == review.KindNotFound {
			continue
		}
		if err != nil {
			return err
		}
		b.known = true
		return body.Close()
	}
	return nil
}

// together is nil where the three may be used with each other: they carry one id, or none of them contradicts that they
// are of one club, which then becomes so.
func (b belonging) together() error {
	switch {
	case b.club.ID == "" && (b.mark != "" || b.keyClub != ""):
		return b.refuse("the database has never been told which club it is of, as a new one or a copy made by an earlier program has not")
	case b.club.ID == "" && b.club.Empty && !b.noPhotos:
		return b.refuse("the database is empty, and the photo folder is not")
	case b.club.ID == "" && len(b.club.Photos) == 0 && !b.noPhotos:
		return b.refuse("the database knows no photo, and the photo folder has some")
	case b.club.ID == "" && len(b.club.Photos) > 0 && !b.known:
		return b.refuse("none of the photos that the database knows is in the photo folder: it is another one, or its disk is not mounted")
	case b.club.ID == "":
		return nil
	case b.mark != "" && b.mark != b.club.ID:
		return b.refuse("the photos are of another club than the database")
	case b.keyClub != "" && b.keyClub != b.club.ID:
		return b.refuse("the key is of another club than the database")
	case b.club.Settled && b.mark == "":
		return b.refuse("the photo folder does not carry the mark that it once had: it is another one, or its disk is not mounted")
	case b.club.Settled && b.noKey:
		return b.refuse("the key file is missing; a new one would end all logins")
	case b.club.Settled && b.keyClub == "":
		return b.refuse("the key file does not name the club, as it once did: it is another one")
	}
	return nil
}

// refuse says which of the three is whose.
func (b belonging) refuse(why string) error {
	key := whose(b.keyClub)
	if b.noKey {
		key = "not there"
	}
	return fmt.Errorf("these are not known to belong together, since %s:\n"+
		"  database      %s: %s\n  photo folder  %s: %s\n  key file      %s: %s\n"+
		"Nothing was changed, and everything in each of them is safe. Correct --data or --database (a club on PostgreSQL needs --database each time), "+
		"or restore what is missing. If they do belong together, run: revidit migrate --adopt, with the same --data and --database",
		why, b.database, whose(b.club.ID), b.photos, whose(b.mark), b.key, key)
}

func whose(id string) string {
	if id == "" {
		return "of no known club"
	}
	return "of the club " + id
}

// id is the one that all three are to carry: the database's where it has one.
func (b belonging) id() string {
	for _, known := range []string{b.club.ID, b.mark, b.keyClub} {
		if known != "" {
			return known
		}
	}
	return rand.Text()
}

// settled says whether all three carry one id already.
func (b belonging) settled() bool {
	return b.club.Settled && b.mark == b.club.ID && b.keyClub == b.club.ID
}

// settle has all three carry one id. The database comes first and learns last that it is so: whoever is cut off between
// goes on where it ended.
func (b belonging) settle(ctx context.Context, db *models.DB, photos *blob.Dir, ring *auth.KeyRing) error {
	if b.settled() {
		return nil
	}
	id, err := db.NameClub(ctx, b.id())
	if err != nil {
		return err
	}
	if b.mark != id {
		if err := photos.SetMark(id); err != nil {
			return err
		}
	}
	if ring.Club != id {
		if err := ring.SetClub(id); err != nil {
			return err
		}
	}
	return db.SettleClub(ctx)
}
