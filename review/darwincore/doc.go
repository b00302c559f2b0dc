// Package darwincore writes what leaves the house as a Darwin Core archive, and reads archives that others have written. An archive is
// a ZIP file with a row of each occurrence, rows that belong to it (its identifications, its media with regions), a description
// of the files and one of the whole.
//
// Written are the terms of the Darwin Core List of Terms, version 2026-05-26, with the long-standing ones beside the new, since older
// readers do not know these: an occurrence carries its accepted identification in its own row as well. Which value a term gets is
// decided here and nowhere else; what is read comes out as review.Incoming, whatever it was. It reads and writes no database.
package darwincore
