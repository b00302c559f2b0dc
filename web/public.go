package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"regexp"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"golang.org/x/text/language"

	"revidit/review"
	"revidit/review/iiif"
	"revidit/review/photo"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

// Addresses that everybody may read. Nothing below them reads or sets a cookie, or knows who asks.
const (
	publishedPath = pages.PublishedPath
	iiifPath      = "/iiif/"
	imagesPath    = iiifPath + "images/"
	manifestsPath = iiifPath + "specimens/"
)

// publicPolicy: a public page runs no script and sends nothing.
const publicPolicy = "default-src 'none'; img-src 'self' data:; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// publicCaching lets caches between keep what is public for five minutes: after that, what was taken back is gone there, too.
const publicCaching = "public, max-age=300, must-revalidate"

func (s *Server) registerPublic(r *gin.Engine) {
	r.GET(publishedPath+":id", s.public, s.publishedPage)
	i := r.Group(iiifPath, s.public, shared)
	i.GET("/specimens/:id/manifest", s.manifest)
	i.GET("/images/:id", s.imageAddress)
	i.GET("/images/:id/info.json", s.imageInfo)
	i.GET("/images/:id/:region/:size/:rotation/:file", s.imagePiece)
	i.OPTIONS("/*path", func(c *gin.Context) { c.Status(http.StatusNoContent) })
}

// isPublic says whether a request is for what everybody may read.
func isPublic(c *gin.Context) bool {
	return isPublicPath(c.Request.URL.Path)
}

func isPublicPath(path string) bool {
	return strings.HasPrefix(path, publishedPath) || strings.HasPrefix(path, iiifPath)
}

// public answers without a person.
func (s *Server) public(c *gin.Context) {
	c.Header("Content-Security-Policy", publicPolicy)
	c.Header("Cache-Control", publicCaching)
	c.Header("Vary", "Accept, Accept-Language")
	c.Header("Cross-Origin-Opener-Policy", "") // or caches would keep one for each way of coming here, and nobody is logged in here
}

// shared lets pages of other sites read the answer: viewers run anywhere (Image API 3.0, section 5.1 and 7.1).
func shared(c *gin.Context) {
	c.Header("Access-Control-Allow-Origin", "*")
	c.Header("Access-Control-Allow-Methods", "GET, HEAD, OPTIONS")
	c.Header("Access-Control-Allow-Headers", "Accept, Content-Type, If-None-Match")
	c.Header("Access-Control-Expose-Headers", "Link, ETag")
	c.Header("Cross-Origin-Resource-Policy", "cross-origin")
}

// failPublic tells what went wrong without the frame of those who are logged in, and lets nobody keep it.
func (s *Server) failPublic(c *gin.Context, err error) {
	var asked *iiif.Error
	if errors.As(err, &asked) {
		c.Header("Cache-Control", publicCaching)
		c.String(asked.Status, "%s\n", asked.Reason)
		c.Abort()
		return
	}
	p := s.problem(c, err)
	c.Abort()
	retryAfter(c, waitOf[p.Status])
	if strings.HasPrefix(c.Request.URL.Path, iiifPath) {
		c.Header("Cache-Control", "no-store")
		c.String(p.Status, "%s\n", p.Detail)
		return
	}
	s.page(c, p.Status, pages.NotPublished(p.Title, p.Detail))
}

// sendPublic answers with bytes that everybody may have, or that the browser has them.
func (s *Server) sendPublic(c *gin.Context, media, tag string, body []byte) {
	t := entityTag{opaque: tag}
	conditions := Conditions{method: http.MethodGet, IfNoneMatch: strings.Join(c.Request.Header.Values("If-None-Match"), ", ")}
	status, err := conditions.reading(t)
	if err != nil {
		s.failPublic(c, err)
		return
	}
	c.Header("ETag", t.String())
	if status == http.StatusNotModified {
		c.Status(status)
		return
	}
	c.Data(status, media, body)
}

func (s *Server) sendPublicJSON(c *gin.Context, media string, value any) {
	body, err := json.Marshal(value)
	if err != nil {
		s.failPublic(c, err)
		return
	}
	if !strings.Contains(c.GetHeader("Accept"), "application/ld+json") {
		media = "application/json"
	}
	s.sendPublic(c, media, digestTag(body), body)
}

func digestTag(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:16])
}

// ownHost is what a Host header may be, so that nobody writes anything else into an address of ours.
var ownHost = regexp.MustCompile(`^[A-Za-z0-9._-]+(:\d{1,5})?$|^\[[0-9A-Fa-f:.]+\](:\d{1,5})?$`)

// base is the beginning of our addresses, as others see them: the first origin that was configured, where a proxy rewrites the host.
func (s *Server) base(c *gin.Context) (string, error) {
	if len(s.Origins) > 0 {
		return strings.TrimSuffix(s.Origins[0], "/"), nil
	}
	if !ownHost.MatchString(c.Request.Host) {
		return "", review.Invalidf("Host", "is no name of a server")
	}
	scheme := "http://"
	if s.secured(c) {
		scheme = "https://"
	}
	return scheme + c.Request.Host, nil
}

func (s *Server) publishedPage(c *gin.Context) {
	if tag, ok := words.Of(c.Query("language")); ok {
		c.Request = c.Request.WithContext(words.In(c.Request.Context(), tag))
	}
	ctx := c.Request.Context()
	view, err := s.Service.PublicSpecimen(ctx, c.Param("id"))
	if err != nil {
		s.failPublic(c, err)
		return
	}
	book, err := s.bookOf(ctx, view.Group)
	if err != nil {
		s.failPublic(c, err)
		return
	}
	var page bytes.Buffer
	if err := pages.Published(book, view).Render(ctx, &page); err != nil {
		s.failPublic(c, err)
		return
	}
	body := pages.Isolate(page.Bytes())
	s.sendPublic(c, "text/html; charset=utf-8", digestTag(body), body)
}

// bookOf gives words to the ids of a group; without words where the tables are not here.
func (s *Server) bookOf(ctx context.Context, group string) (pages.Book, error) {
	judges, err := s.Service.Groups(ctx)
	for _, j := range judges {
		if j.Tables().Group.ID == group {
			return pages.BookIn(ctx, j.Tables()), nil
		}
	}
	return pages.Book{}, err
}

// imageAddress leads from the address of an image to its description, as level 1 asks.
func (s *Server) imageAddress(c *gin.Context) {
	if _, err := s.Service.PublicPhoto(c.Request.Context(), c.Param("id")); err != nil {
		s.failPublic(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, imagesPath+c.Param("id")+"/info.json")
}

func (s *Server) imageInfo(c *gin.Context) {
	p, err := s.Service.PublicPhoto(c.Request.Context(), c.Param("id"))
	var base string
	if err == nil {
		base, err = s.base(c)
	}
	if err != nil {
		s.failPublic(c, err)
		return
	}
	info := iiif.InfoOf(base+imagesPath+p.ID, p.Published.Width, p.Published.Height, sizesOf(p.Published), rightsOf(p.Published))
	c.Header("Link", "<"+iiif.ImageLevel+`>;rel="profile"`)
	s.sendPublicJSON(c, iiif.ImageMedia, info)
}

// sizesOf are the sizes that viewers are offered of a whole photo: those of our copies that are smaller, and its own.
func sizesOf(p *review.Publication) []iiif.Extent {
	var sizes []iiif.Extent
	for _, side := range []int{photo.ThumbSide, photo.MiddleSide, photo.DisplaySide} {
		if side < max(p.Width, p.Height) {
			sizes = append(sizes, extentOf(p, side))
		}
	}
	return append(sizes, iiif.Extent{Width: p.Width, Height: p.Height})
}

func extentOf(p *review.Publication, side int) iiif.Extent {
	scale := min(1, float64(side)/float64(max(p.Width, p.Height)))
	return iiif.Extent{Width: max(1, int(math.Round(float64(p.Width)*scale))), Height: max(1, int(math.Round(float64(p.Height)*scale)))}
}

// rightsOf is the licence by the IRI that the standard has of it, which begins with http.
func rightsOf(p *review.Publication) string {
	return strings.Replace(p.Licence, "https://", "http://", 1)
}

func (s *Server) imagePiece(c *gin.Context) {
	ctx := c.Request.Context()
	p, err := s.Service.PublicPhoto(ctx, c.Param("id"))
	if err != nil {
		s.failPublic(c, err)
		return
	}
	asked, err := iiif.Parse(c.Param("region"), c.Param("size"), c.Param("rotation"), c.Param("file"))
	if err != nil {
		s.failPublic(c, err)
		return
	}
	made, err := s.Service.PublicImage(ctx, p, asked)
	var base string
	if err == nil {
		base, err = s.base(c)
	}
	if err != nil {
		s.failPublic(c, err)
		return
	}
	c.Header("Link", "<"+base+imagesPath+p.ID+"/"+made.Canonical+`>;rel="canonical", <`+iiif.ImageLevel+`>;rel="profile"`)
	s.sendPublic(c, photo.JPEG, made.Tag, made.Data)
}

// manifest describes a specimen with its published photos, in all languages that there are texts in.
func (s *Server) manifest(c *gin.Context) {
	ctx := c.Request.Context()
	view, err := s.Service.PublicSpecimen(ctx, c.Param("id"))
	var base string
	if err == nil {
		base, err = s.base(c)
	}
	if err != nil {
		s.failPublic(c, err)
		return
	}
	told := tongues{}
	for _, tag := range words.Languages {
		in := words.In(ctx, tag)
		book, err := s.bookOf(in, view.Group)
		if err != nil {
			s.failPublic(c, err)
			return
		}
		told = append(told, tongue{in, tag, book})
	}
	s.sendPublicJSON(c, iiif.PresentationMedia, told.manifest(base, &view))
}

// tongue is a language with the words of tables in it.
type tongue struct {
	ctx  context.Context
	tag  language.Tag
	book pages.Book
}

type tongues []tongue

// say is a text in all languages.
func (t tongues) say(text func(tongue) string) iiif.Text {
	said := iiif.Text{}
	for _, in := range t {
		if words := text(in); words != "" {
			said[in.tag.String()] = []string{words}
		}
	}
	return said
}

func (t tongues) manifest(base string, view *review.PublicSpecimen) iiif.Manifest {
	id := base + manifestsPath + view.ID + "/manifest"
	head := iiif.Manifest{Label: t.say(func(in tongue) string { return pages.PublicTitle(in.ctx, view) })}
	for i := range pages.PublicFacts(t[0].ctx, view) {
		head.Metadata = append(head.Metadata, iiif.Pair{
			Label: t.say(func(in tongue) string { return pages.PublicFacts(in.ctx, view)[i].Title }),
			Value: t.say(func(in tongue) string { return pages.PublicFacts(in.ctx, view)[i].Text })})
	}
	head.Homepage = []iiif.Homepage{{ID: base + publishedPath + view.ID, Type: "Text", Format: "text/html", Label: head.Label}}
	var photos []iiif.Photo
	for _, p := range view.Photos {
		shown := iiif.Photo{Image: base + imagesPath + p.ID, Width: p.Published.Width, Height: p.Published.Height, Rights: rightsOf(p.Published),
			Label: t.say(func(in tongue) string { return in.book.View(in.ctx, p.View) }), Thumb: extentOf(p.Published, photo.ThumbSide),
			Statement: iiif.Pair{Label: t.say(func(in tongue) string { return pages.PublicRights(in.ctx) }),
				Value: t.say(func(in tongue) string { return pages.PublicCredit(in.ctx, p.Published) })}}
		for _, o := range view.MarkedOn(p.ID) {
			shown.Marks = append(shown.Marks, iiif.Mark{ID: o.ID, X: o.Region.X, Y: o.Region.Y, W: o.Region.W, H: o.Region.H,
				Text: t.say(func(in tongue) string {
					return in.book.Character(o.Character) + ": " + in.book.State(o.Character, o.State)
				})})
		}
		photos = append(photos, shown)
	}
	return iiif.ManifestOf(id, head, photos)
}

// publishPhotos lets everybody see photos of a specimen.
func (s *Server) publishPhotos(c *gin.Context) {
	s.actOnPublic(c, func(ctx context.Context, sent *sentForm) error {
		side, err := strconv.Atoi(sent.get("side"))
		if err != nil {
			return review.Invalidf("side", "must be 800, 1600 or 3200 pixels")
		}
		form := review.PublishForm{Photos: sent.values["photos"], Licence: sent.get("license"), Holder: sent.text("holder"), Side: side, Reason: sent.text("reason")}
		_, err = s.Service.PublishPhotos(ctx, actorOf(c), c.Param("id"), service.AnyVersion, form)
		return err
	})
}

// unpublishPhotos takes photos back from the public.
func (s *Server) unpublishPhotos(c *gin.Context) {
	s.actOnPublic(c, func(ctx context.Context, sent *sentForm) error {
		_, err := s.Service.UnpublishPhotos(ctx, actorOf(c), c.Param("id"), service.AnyVersion, review.UnpublishForm{Photos: sent.values["photos"], Reason: sent.text("reason")})
		return err
	})
}

func (s *Server) actOnPublic(c *gin.Context, act func(context.Context, *sentForm) error) {
	sent, err := s.textForm(c)
	if err == nil {
		_, err = s.once(c, sent, func(ctx context.Context) error { return act(ctx, sent) })
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/specimens/"+c.Param("id"))
}
