package service

import (
	"revidit/review"
)

const (
	largestPage = 200
	// longestCursor has room for the weights of all regions, which a cursor of the queue carries.
	longestCursor = 20_000
)

func checkPage(page Page) (Page, error) {
	if page.Size == 0 {
		page.Size = 50
	}
	if page.Size < 1 || page.Size > largestPage {
		return page, review.Invalidf("size", "must be from 1 to 200")
	}
	if len(page.Cursor) > longestCursor {
		return page, foreignCursor()
	}
	return page, nil
}

// filled reads pages until one is full of lines that are shown. Where it would tell something that a line is left out,
// neither a short page nor a cursor may say that there is one: a page is filled up, and there is a next one only where
// that has something to show.
func filled[Line any](page Page, tells bool, read func(Page) ([]Line, string, error), show func([]Line) ([]Line, error)) ([]Line, string, error) {
	lines, next := []Line{}, page.Cursor
	for {
		found, cursor, err := read(Page{Size: page.Size - len(lines), Cursor: next})
		if err != nil {
			return nil, "", err
		}
		shown, err := show(found)
		if err != nil {
			return nil, "", err
		}
		lines, next = append(lines, shown...), cursor
		if next == "" || !tells {
			return lines, next, nil
		}
		if len(lines) == page.Size {
			break
		}
	}
	for after := next; after != ""; {
		found, cursor, err := read(Page{Size: page.Size, Cursor: after})
		if err != nil {
			return nil, "", err
		}
		shown, err := show(found)
		if err != nil {
			return nil, "", err
		}
		if len(shown) > 0 {
			return lines, next, nil
		}
		after = cursor
	}
	return lines, "", nil
}

// Page asks for a part of a list. Size is 1 to 200; a cursor is what the last page returned. People are given cursors
// sealed (cursorSeal); between service and store they are plain.
type Page struct {
	Size   int
	Cursor string
}
