package darwincore

import (
	"strconv"
	"strings"
	"time"

	"revidit/review"
)

// appendMedia writes a row of each photo of a record, and behind it one of each of its regions, and how many. Photos of labels tell the place: they
// leave the house with the exact one alone.
func appendMedia(to []byte, row []string, r *Record, grid review.Grid, o *Options, book Book) ([]byte, int) {
	n, core := 0, occurrenceID(&r.Specimen)
	for i := range r.Specimen.Photos {
		p := &r.Specimen.Photos[i]
		if p.View == review.ViewOfLabels && grid != review.GridExact {
			continue
		}
		part, orientation := book.View(p.View)
		m := medium{core: core, creator: book.Person(p.By), Described: review.Described{ID: urn + p.ID, SHA256: p.SHA256, Type: p.Type, Width: p.Width, Height: p.Height,
			Part: part, Orientation: orientation, TakenOn: p.At.Format(time.RFC3339), License: licenceOf(p, o)}}
		for j := range r.Specimen.Marked {
			if o := &r.Specimen.Marked[j]; o.Photo == p.ID {
				m.Regions = append(m.Regions, review.DescribedRegion{ID: urn + o.ID, Region: *o.Region, Text: o.Character + ": " + o.State})
			}
		}
		to, n = m.append(to, row), n+1+len(m.Regions)
	}
	for i := range r.Specimen.Described {
		m := medium{core: core, Described: r.Specimen.Described[i]}
		to, n = m.append(to, row), n+1+len(m.Regions)
	}
	return to, n
}

// medium is a photo as a row.
type medium struct {
	core, creator string
	review.Described
}

func (m *medium) append(to []byte, row []string) []byte {
	clear(row)
	row[mCore], row[mID], row[mType], row[mFormat], row[mCreator] = m.core, m.ID, "StillImage", m.Type, m.creator
	row[mCreated], row[mRights], row[mAddress] = m.TakenOn, m.License, m.Address
	if m.SHA256 != "" {
		row[mHashFunction], row[mHash] = "SHA-256", m.SHA256
	}
	if m.Width > 0 && m.Height > 0 {
		row[mWidth], row[mHeight] = strconv.Itoa(m.Width), strconv.Itoa(m.Height)
	}
	row[mPart], row[mPartLiteral] = iriOf(subjectParts, partValues, m.Part), m.Part
	row[mOrientation], row[mOrientationLiteral] = iriOf(subjectOrientations, orientationValues, m.Orientation), m.Orientation
	ids := make([]string, len(m.Regions))
	for i := range m.Regions {
		ids[i] = m.Regions[i].ID
	}
	row[mHasROI] = strings.Join(ids, between)
	to = appendRow(to, row)
	for i := range m.Regions {
		to = m.appendRegion(to, row, &m.Regions[i])
	}
	return to
}

// appendRegion writes a rectangle in fractions of the image, as the standard asks for.
func (m *medium) appendRegion(to []byte, row []string, g *review.DescribedRegion) []byte {
	clear(row)
	row[mCore], row[mID], row[mType], row[mIsROIOf] = m.core, g.ID, "StillImage", m.ID
	row[mX], row[mY], row[mW], row[mH] = decimal(g.X), decimal(g.Y), decimal(g.W), decimal(g.H)
	row[mDescription] = g.Text
	return appendRow(to, row)
}

// licenceOf is under which licence a photo is handed over: a published one under that by which everybody sees it.
func licenceOf(p *review.Photo, o *Options) string {
	if p.Published != nil {
		return p.Published.Licence
	}
	return o.License
}
