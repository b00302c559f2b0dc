package photo

import "strings"

// Warning is a code of what could not be used of a picture although it was accepted; words are the caller's. What it is about stands behind
// a colon.
type Warning string

const (
	WarnMetadata    Warning = "metadata"     // what the photo says about itself could not be read completely, its orientation perhaps
	WarnProfile     Warning = "profile"      // the colour profile could not be used and was left out
	WarnProfileCopy Warning = "profile-copy" // the colour profile could not be applied to the copies
	WarnPages       Warning = "pages"        // a TIFF file of several pages, of which the first was taken
	WarnPictures    Warning = "pictures"     // several pictures or a film, of which the main picture was taken
	WarnKeptAsJPEG  Warning = "kept-as-jpeg" // kept as a JPEG of all its pixels; behind the colon: of which format it was
)

// Of is a warning about something.
func (w Warning) Of(what string) Warning { return w + Warning(":"+what) }

// Cut is the code of a warning and what it is about.
func (w Warning) Cut() (code Warning, what string) {
	before, what, _ := strings.Cut(string(w), ":")
	return Warning(before), what
}
