// Package inventory reads the table of an old collection, CSV or XLSX: which column holds what, dates and coordinates as they are written,
// determinations of before. What it cannot read it keeps word for word and tells by row and column; it guesses no century and no order of
// day and month. Bytes in, specimens that might be taken in out.
package inventory
