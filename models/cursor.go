package models

import (
	"encoding/json"
	"fmt"
	"strings"

	"revidit/review"
	"revidit/review/service"
)

const maxPage = 200

// encodeCursor makes a text of where a page has ended. It holds what people may not see, and what they may not choose:
// package service seals it.
func encodeCursor(position any) (string, error) {
	text, err := json.Marshal(position)
	if err != nil {
		return "", fmt.Errorf("make a cursor: %w", err)
	}
	return string(text), nil
}

// decodeCursor is the inverse of encodeCursor. A cursor of another list is refused as well.
func decodeCursor(cursor string, position interface{ valid() bool }) error {
	decoder := json.NewDecoder(strings.NewReader(cursor))
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
