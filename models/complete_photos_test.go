package models_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/photo"
	"revidit/review/service"
)

// oldPhotos is a club with photos of a time when there were neither middle copies nor looks.
type oldPhotos struct {
	*testing.T
	db      *models.DB
	blobs   *blob.Mem
	service *service.Service
}

// drawn is a display copy of 1200 x 900 pixels: light from one side above and from the other below, with a dark beetle of sorts at a place; or grey all over.
func drawn(t *testing.T, at int, plain bool) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 1200, 900))
	for y := range 900 {
		for x := range 1200 {
			light := uint8(40 + x*150/1200 + y*50/900)
			if y > 500 {
				light = 255 - light
			}
			if dx, dy := x-at, y-450; dx*dx+2*dy*dy < 250*250 {
				light = uint8(20 + (x/40+y/70)%2*60)
			}
			if plain {
				light = 128
			}
			img.SetRGBA(x, y, color.RGBA{light, light, light, 255})
		}
	}
	var text bytes.Buffer
	require.NoError(t, jpeg.Encode(&text, img, nil))
	return text.Bytes()
}

func sumIn(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// put stores photo n as a program of then did; without bytes it leaves the row alone.
func (o *oldPhotos) put(n int, display []byte) {
	o.Helper()
	if display != nil {
		for _, size := range sizes {
			require.NoError(o, o.blobs.Put(o.Context(), nameOf(n, size), display))
		}
		if n%2 == 0 { // digests of copies came later than the first photos
			sums, err := json.Marshal(map[string]string{"display": sumIn(display), "thumb": sumIn(display)})
			require.NoError(o, err)
			require.NoError(o, o.blobs.Put(o.Context(), nameOf(n, "sums"), sums))
		}
	}
	require.NoError(o, o.db.SaveUpload(o.Context(), review.Upload{Photo: review.Photo{ID: sha(n)[:20], SHA256: sha(n), Type: "image/jpeg", Width: 1200, Height: 900, By: "ada", At: time.Now().UTC().Truncate(time.Microsecond)}}))
}

func (o *oldPhotos) copyOf(n int, size service.Size) []byte {
	o.Helper()
	opened, err := o.service.Photo(o.Context(), review.Actor{Person: "ada", Role: review.RoleMember}, sha(n)[:20], size)
	require.NoError(o, err)
	defer opened.Body.Close()
	text, err := io.ReadAll(opened.Body)
	require.NoError(o, err)
	return text
}

// TestPhotosOfBeforeAreCompleted: slice by slice, from wherever one has stopped, each photo gets a middle copy and a look, and is found by it;
// one that cannot be read stops no other.
func TestPhotosOfBeforeAreCompleted(t *testing.T) {
	t.Parallel()
	for name, open := range databases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			o := &oldPhotos{T: t, db: open(t), blobs: &blob.Mem{}}
			o.service = service.NewService(o.db, o.blobs, service.NewLibrary(modelstest.Tables(t)), service.Options{})
			first, plain := drawn(t, 400, false), drawn(t, 0, true)
			o.put(1, first)
			o.put(2, drawn(t, 800, false))
			o.put(3, nil) // its files are gone
			o.put(4, plain)
			require.Equal(t, o.copyOf(1, service.SizeDisplay), o.copyOf(1, service.SizeMiddle), "as it was before")
			due, err := o.service.DueJobs(t.Context())
			require.NoError(t, err)
			require.Contains(t, due, jobs.CompletePhotos())

			photos := 0
			afterOne := func() bool { photos++; return photos > 1 } // asked before the first photo, and behind it
			slice := jobs.Slice{Job: jobs.CompletePhotos(), Stop: afterOne}
			step, err := o.service.DoSlice(t.Context(), slice)
			require.NoError(t, err)
			require.True(t, step.More)
			require.Equal(t, []int{1, 4}, []int{step.Done, step.Total})
			photos = 0
			// It breaks off before that is stored: all begins anew, and makes the same.
			step, err = o.service.DoSlice(t.Context(), slice)
			require.NoError(t, err)
			require.Equal(t, []int{1, 4}, []int{step.Done, step.Total})
			require.NoError(t, o.db.Commit(t.Context(), step.Batch))
			var seen []int
			require.NoError(t, o.service.Do(t.Context(), jobs.CompletePhotos(), func(s service.JobStep) { seen = append(seen, s.Done, s.Total) }))
			require.Equal(t, []int{3, 3}, seen, "what was stored is not looked at again")

			found, err := o.db.Found(t.Context(), review.FoundCompleted, "", "")
			require.NoError(t, err)
			var made service.Completed
			require.NoError(t, found.Decode(&made))
			require.Equal(t, service.Completed{Looked: 3, Copies: 2, Damaged: 1}, made)
			left, err := o.db.PhotosWithoutLook(t.Context(), "", 10)
			require.NoError(t, err)
			require.Equal(t, []string{sha(3)}, left, "one without anything to be told by was looked at as well")
			for _, n := range []int{1, 2, 4} {
				config, err := jpeg.DecodeConfig(bytes.NewReader(o.copyOf(n, service.SizeMiddle)))
				require.NoError(t, err)
				require.Equal(t, []int{800, 600}, []int{config.Width, config.Height})
				require.Equal(t, o.copyOf(n, service.SizeDisplay), o.copyOf(n, service.SizeThumb), "the others are as they were")
			}
			_, look, err := photo.Complete(first)
			require.NoError(t, err)
			require.NotEmpty(t, look)
			same, err := o.db.SeenPhotos(t.Context(), sha(9), string(look))
			require.NoError(t, err)
			require.Len(t, same, 1)
			require.Equal(t, sha(1), same[0].SHA256)
			due, err = o.service.DueJobs(t.Context())
			require.NoError(t, err)
			require.NotContains(t, due, jobs.CompletePhotos())
		})
	}
}
