package models

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"

	"revidit/review"
	"revidit/review/service"
)

const maxPage = 200

// encodeCursor makes an opaque text of where a page has ended.
func encodeCursor(position any) (string, error) {
	text, err := json.Marshal(position)
	if err != nil {
		return "", fmt.Errorf("make a cursor: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(text), nil
}

// decodeCursor is the inverse of encodeCursor. A cursor of another list is refused as well.
func decodeCursor(cursor string, position interface{ valid() bool }) error {
	text, err := base64.RawURLEncoding.DecodeString(cursor)
	if err != nil {
		return badCursor()
	}
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(position); err != nil || !position.valid() {
		return badCursor()
	}
	return nil
}

func badCursor() error {
	return review.Invalidf("cursor", "is none that this service gave; begin again with the first page")
}

func checkSize(page service.Page) error {
	if page.Size < 1 || page.Size > maxPage {
		return review.Invalidf("size", "must be from 1 to %d", maxPage)
	}
	return nil
}
