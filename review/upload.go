package review

// PhotoLook is what the photo of an original looks like (photo.Likeness; empty: nothing by which it could be told), found out later than it came.
type PhotoLook struct{ SHA256, Look string }

// Upload is a photo that was stored, before or after a specimen took it.
type Upload struct {
	Photo           // View is empty
	Specimen string `json:"specimen,omitempty"`
	Draft    string `json:"-"` // of its uploader, which keeps it until it is submitted
	// Look is what it looks like (photo.Likeness), on its way into the store.
	Look string `json:"-"`
}
