package review

// Upload is a photo that was stored, before or after a specimen took it.
type Upload struct {
	Photo           // View is empty
	Specimen string `json:"specimen,omitempty"`
	Draft    string `json:"-"` // of its uploader, which keeps it until it is submitted
	// Look is what it looks like (photo.Likeness), on its way into the store.
	Look string `json:"-"`
}
