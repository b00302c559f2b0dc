package pages

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// TestPhotoWidths: widths of copies are those that the HTML standard's width descriptors ask for, in pixels of the copy; by hand.
func TestPhotoWidths(t *testing.T) {
	lying := besideEachOther(2).attributes(review.Photo{ID: "p", Width: 6000, Height: 4000})
	require.Equal(t, "/photos/p/middle 800w, /photos/p/display 1600w", lying["srcset"])
	require.Contains(t, lying["sizes"], "46vw")
	upright := besideEachOther(1).attributes(review.Photo{ID: "p", Width: 4000, Height: 6000})
	require.Equal(t, "/photos/p/middle 533w, /photos/p/display 1067w", upright["srcset"])
	require.NotContains(t, upright["sizes"], "46vw", "one alone is as wide as the page")
	between := besideEachOther(1).attributes(review.Photo{ID: "p", Width: 1000, Height: 500})
	require.Equal(t, "/photos/p/middle 800w, /photos/p/display 1000w", between["srcset"], "nothing is enlarged")
	require.Empty(t, besideEachOther(1).attributes(review.Photo{ID: "p", Width: 640, Height: 480}), "all copies are the same")
	require.Empty(t, sharpest.attributes(review.Photo{ID: "p", Width: 6000, Height: 4000}))
}
