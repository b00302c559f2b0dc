package web

import (
	"archive/zip"
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/diagnosis"
)

// archiveMedia is the media type of a release: a ZIP archive of its files.
const archiveMedia = "application/zip"

// Limits on an archive that is sent here. The beetle tables take 300 files, 2 MiB unpacked and half a MiB packed.
const (
	maxArchive      = 4 << 20 // bytes as sent
	maxUnpacked     = diagnosis.MaxFolderBytes
	maxArchiveFiles = diagnosis.MaxFiles
	// archiveWait bounds how long an archive may take to arrive: while one does, no other is taken.
	archiveWait = time.Minute
)

func carriesArchive(r *http.Request) bool {
	return strings.HasPrefix(strings.ToLower(r.Header.Get("Content-Type")), archiveMedia) && strings.HasPrefix(r.URL.Path, apiPrefix)
}

// archiveTime is the time of every file in an archive, the earliest that the format has: the same release gives the
// same bytes.
var archiveTime = time.Date(1980, time.January, 1, 0, 0, 0, 0, time.UTC)

// packed is an archive of files by name.
func packed(files map[string]string) ([]byte, error) {
	var buffer bytes.Buffer
	w := zip.NewWriter(&buffer)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		header := &zip.FileHeader{Name: name, Method: zip.Deflate, Modified: archiveTime}
		header.SetMode(0o644)
		file, err := w.CreateHeader(header)
		if err != nil {
			return nil, fmt.Errorf("pack %s: %w", name, err)
		}
		if _, err := io.WriteString(file, files[name]); err != nil {
			return nil, fmt.Errorf("pack %s: %w", name, err)
		}
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	return buffer.Bytes(), nil
}

// unpacked reads an archive from a stranger: what its directory says of sizes is not believed, and nothing is written
// to a disk. Every error is about the field "body".
func unpacked(data []byte) (map[string]string, error) {
	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, review.Invalidf("body", "is no ZIP archive that can be read: %s", err)
	}
	files, left := map[string]string{}, int64(maxUnpacked)
	for _, file := range archive.File {
		if err := checkEntry(file, files); err != nil {
			return nil, err
		}
		if file.Mode().IsDir() {
			continue
		}
		text, err := readEntry(file, left)
		if err != nil {
			return nil, err
		}
		files[file.Name] = text
		left -= int64(len(text))
	}
	return files, checkNames(files)
}

// checkEntry refuses names that lead elsewhere, what is no ordinary file, and too many files.
func checkEntry(file *zip.File, files map[string]string) error {
	name := strings.TrimSuffix(file.Name, "/")
	_, twice := files[file.Name]
	switch {
	case !isText(name) || !fs.ValidPath(name) || name == "." || strings.ContainsAny(name, `\:`):
		return review.Invalidf("body", "has a file whose name is no plain path within the archive: %q", strings.ToValidUTF8(file.Name, "?"))
	case !file.Mode().IsRegular() && !file.Mode().IsDir():
		return review.Invalidf("body", "has something that is no ordinary file: %s", name)
	case twice:
		return review.Invalidf("body", "has a file twice: %s", name)
	case len(files) == maxArchiveFiles:
		return review.Invalidf("body", "has more than %d files", maxArchiveFiles)
	}
	return nil
}

// readEntry unpacks a file as far as there are bytes left.
func readEntry(file *zip.File, left int64) (string, error) {
	r, err := file.Open()
	if err != nil {
		return "", review.Invalidf("body", "has a file that cannot be unpacked, %s: %s", file.Name, err)
	}
	defer r.Close()
	var text strings.Builder
	n, err := io.Copy(&text, io.LimitReader(r, min(left, diagnosis.MaxFileBytes)+1))
	switch {
	case n > diagnosis.MaxFileBytes:
		return "", review.Invalidf("body", "has a file that is larger than %d KiB when unpacked, %s", diagnosis.MaxFileBytes>>10, file.Name)
	case n > left:
		return "", review.Invalidf("body", "is larger than %d MiB when unpacked", maxUnpacked>>20)
	case err != nil:
		return "", review.Invalidf("body", "has a file that cannot be unpacked, %s: %s", file.Name, err)
	}
	return text.String(), nil
}

// checkNames refuses a file that is a folder of others too, and an archive whose tables do not stand at its top.
func checkNames(files map[string]string) error {
	for _, name := range slices.Sorted(maps.Keys(files)) {
		for dir := path.Dir(name); dir != "."; dir = path.Dir(dir) {
			if _, both := files[dir]; both {
				return review.Invalidf("body", "has %s both as a file and as a folder", dir)
			}
		}
	}
	if _, ok := files["group.yaml"]; !ok {
		return review.Invalidf("body", "has no group.yaml at its top: pack the files of the folder, not the folder itself")
	}
	return nil
}

// registerImport adds the one route of the tables that carries bytes. It stands on gin, so that the archive of
// somebody who may not publish is not even read.
func (a *api) registerImport(group *gin.RouterGroup, at, tag string) {
	group.POST("/groups/:group/imports", a.importTables)
	o := operation(http.MethodPost, at+"/imports", "import-release", tag, "Publish the tables in an archive, such as another club's, as the next release")
	o.Description = fmt.Sprintf("The files of a folder of tables, group.yaml at the top: at most %d MiB packed, %d MiB unpacked, %d files of %d KiB each. One import at a time.",
		maxArchive>>20, maxUnpacked>>20, maxArchiveFiles, diagnosis.MaxFileBytes>>10)
	o.Parameters = []*huma.Param{{Name: "group", In: "path", Required: true, Schema: &huma.Schema{Type: huma.TypeString}}, keyParameter()}
	o.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{
		archiveMedia: {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}}
	o.Responses = a.problemResponses(400, 401, 403, 404, 409, 413, 415, 429, 500, 503)
	o.Responses["201"] = &huma.Response{Description: "Created", Content: map[string]*huma.MediaType{
		"application/json": {Schema: a.doors.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[review.Release](), true, "Release")}}}
	a.doors.OpenAPI().AddOperation(&o)
}

func (a *api) importTables(c *gin.Context) {
	if !a.somebody(c) {
		return
	}
	made, err := a.imported(c)
	if err != nil {
		a.fail(c, err)
		return
	}
	c.Header("Location", releasePath(made))
	c.JSON(http.StatusCreated, made)
}

func (a *api) imported(c *gin.Context) (review.Release, error) {
	if !review.May(actorOf(c), review.ActEditTables, "") {
		return review.Release{}, review.Errorf(review.KindForbidden, "Only curators publish diagnosis tables. Nothing was changed.")
	}
	select {
	case a.importing <- struct{}{}:
		defer func() { <-a.importing }()
	default:
		return review.Release{}, review.Errorf(review.KindConflict, "Another import of tables is under way. Nothing was published; try again in a minute.")
	}
	if err := http.NewResponseController(c.Writer).SetReadDeadline(time.Now().Add(archiveWait)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return review.Release{}, fmt.Errorf("bound the time of an import: %w", err)
	}
	folder, err := a.sentTables(c)
	if err != nil {
		return review.Release{}, err
	}
	made, err := a.importOnce(c, folder)
	return made, inBody(err)
}

// importOnce is served once under an idempotency key.
func (a *api) importOnce(c *gin.Context, folder fs.FS) (made review.Release, err error) {
	files, err := diagnosis.Contents(folder)
	if err != nil {
		return review.Release{}, review.Invalidf("body", "%s", err)
	}
	asked := struct {
		Import string
		Files  map[string]string
	}{c.Param("group"), files}
	before, err := a.Service.Once(c.Request.Context(), actorOf(c), c.GetHeader(idempotencyHeader), asked, func(ctx context.Context) (err error) {
		made, err = a.Service.Import(ctx, actorOf(c), folder)
		return err
	})
	if err == nil && before != "" {
		return a.released(c.Request.Context(), c.Param("group"), before)
	}
	return made, err
}

// sentTables is the folder of tables in the body, which must be of the group that the address names.
func (a *api) sentTables(c *gin.Context) (fs.FS, error) {
	if _, err := a.tables(c.Request.Context(), c.Param("group")); err != nil {
		return nil, err
	}
	media, _, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil || media != archiveMedia {
		return nil, problemf(http.StatusUnsupportedMediaType, "The body must be a ZIP archive (Content-Type: %s). Nothing was published.", archiveMedia)
	}
	data, err := io.ReadAll(c.Request.Body)
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return nil, err
	case err != nil:
		return nil, review.Invalidf("body", "broke off before its end; send it again")
	}
	files, err := unpacked(data)
	if err != nil {
		return nil, err
	}
	folder := diagnosis.FromContents(files)
	// Tables with problems are refused by the service, with all of them.
	if t, problems := diagnosis.Load(folder); len(problems) == 0 && t.Group.ID != c.Param("group") {
		return nil, review.Invalidf("body", "holds the tables of %s, and not those of %s", t.Group.ID, c.Param("group"))
	}
	return folder, nil
}

// inBody names the body where the service names an edit, which an import has not.
func inBody(err error) error {
	var known *review.Error
	if !errors.As(err, &known) || known.Kind != review.KindInvalid {
		return err
	}
	fields := slices.Clone(known.Fields)
	for i := range fields {
		if fields[i].Field == "edit" {
			fields[i].Field = "body"
		}
	}
	return &review.Error{Kind: known.Kind, Message: known.Message, Fields: fields}
}

// wordsOfFields are the problems of an error in one sentence.
func wordsOfFields(e *review.Error) string {
	words := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		words[i] = f.Message
	}
	return cmp.Or(strings.Join(words, "; "), e.Message)
}
