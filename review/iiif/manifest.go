package iiif

import (
	"maps"
	"slices"
	"strconv"
)

// Text is a text by language (BCP 47), with "none" for what has none.
type Text map[string][]string

// Pair is a term with what there is to say.
type Pair struct {
	Label Text `json:"label"`
	Value Text `json:"value"`
}

// Manifest describes a specimen with its photos (Presentation API 3.0, section 5.2).
type Manifest struct {
	Context           string     `json:"@context"`
	ID                string     `json:"id"`
	Type              string     `json:"type"`
	Label             Text       `json:"label"`
	Summary           Text       `json:"summary,omitempty"`
	Metadata          []Pair     `json:"metadata,omitempty"`
	RequiredStatement *Pair      `json:"requiredStatement,omitempty"`
	Rights            string     `json:"rights,omitempty"`
	Homepage          []Homepage `json:"homepage,omitempty"`
	Thumbnail         []Content  `json:"thumbnail,omitempty"`
	Items             []Canvas   `json:"items"`
}

// Homepage is the page for people.
type Homepage struct {
	ID     string   `json:"id"`
	Type   string   `json:"type"`
	Label  Text     `json:"label"`
	Format string   `json:"format"`
	Lang   []string `json:"language,omitempty"`
}

// Canvas is what a photo stands on, as large as the photo.
type Canvas struct {
	ID                string           `json:"id"`
	Type              string           `json:"type"`
	Label             Text             `json:"label"`
	Height            int              `json:"height"`
	Width             int              `json:"width"`
	Rights            string           `json:"rights,omitempty"`
	RequiredStatement *Pair            `json:"requiredStatement,omitempty"`
	Thumbnail         []Content        `json:"thumbnail,omitempty"`
	Items             []AnnotationPage `json:"items"`
	Annotations       []AnnotationPage `json:"annotations,omitempty"`
}

// AnnotationPage is a list of annotations.
type AnnotationPage struct {
	ID    string       `json:"id"`
	Type  string       `json:"type"`
	Items []Annotation `json:"items"`
}

// Annotation is one of the W3C Web Annotation Data Model.
type Annotation struct {
	ID         string `json:"id"`
	Type       string `json:"type"`
	Motivation string `json:"motivation"`
	Body       any    `json:"body"`   // Content, or texts
	Target     any    `json:"target"` // the IRI of a canvas, or a Part of it
}

// Content is an image.
type Content struct {
	ID      string    `json:"id"`
	Type    string    `json:"type"`
	Format  string    `json:"format"`
	Height  int       `json:"height"`
	Width   int       `json:"width"`
	Service []Service `json:"service,omitempty"`
}

// Service is an image by the Image API.
type Service struct {
	ID      string `json:"id"`
	Type    string `json:"type"`
	Profile string `json:"profile"`
}

// Textual is a text of an annotation.
type Textual struct {
	Type     string `json:"type"`
	Value    string `json:"value"`
	Language string `json:"language,omitempty"`
	Format   string `json:"format"`
}

// Part is a region of a canvas.
type Part struct {
	Type     string   `json:"type"`
	Source   string   `json:"source"`
	Selector Selector `json:"selector"`
}

// Selector is a FragmentSelector (Web Annotation Data Model, section 4.2.1).
type Selector struct {
	Type       string `json:"type"`
	ConformsTo string `json:"conformsTo"`
	Value      string `json:"value"`
}

// Photo is one that a manifest shows.
type Photo struct {
	Image         string // address of its image service
	Width, Height int    // pixels, as published
	Label         Text
	Rights        string // IRI of its licence
	Statement     Pair   // what has to stand beside it
	Thumb         Extent
	Marks         []Mark
}

// Mark is a region in parts of the photo's width and height (0 to 1), with what was seen there by language.
type Mark struct {
	ID         string
	X, Y, W, H float64
	Text       Text
}

// ManifestOf puts a manifest together. At its address, canvases and annotations have theirs below.
func ManifestOf(id string, head Manifest, photos []Photo) Manifest {
	m := head
	m.Context, m.ID, m.Type, m.Items = presentationContext, id, "Manifest", []Canvas{}
	for i, p := range photos {
		m.Items = append(m.Items, p.canvas(id+"/canvas/"+strconv.Itoa(i+1)))
	}
	if len(m.Items) > 0 {
		m.Thumbnail = m.Items[0].Thumbnail
	}
	return m
}

func (p *Photo) canvas(id string) Canvas {
	service := []Service{{p.Image, "ImageService3", "level1"}}
	shown := Content{ID: p.Image + "/full/max/0/default.jpg", Type: "Image", Format: "image/jpeg", Height: p.Height, Width: p.Width, Service: service}
	c := Canvas{ID: id, Type: "Canvas", Label: p.Label, Height: p.Height, Width: p.Width, Rights: p.Rights, RequiredStatement: &p.Statement,
		Thumbnail: []Content{{ID: p.Image + "/full/" + strconv.Itoa(p.Thumb.Width) + "," + strconv.Itoa(p.Thumb.Height) + "/0/default.jpg", Type: "Image", Format: "image/jpeg",
			Height: p.Thumb.Height, Width: p.Thumb.Width, Service: service}},
		Items: []AnnotationPage{{ID: id + "/page", Type: "AnnotationPage", Items: []Annotation{
			{ID: id + "/image", Type: "Annotation", Motivation: "painting", Body: shown, Target: id}}}}}
	if len(p.Marks) == 0 {
		return c
	}
	page := AnnotationPage{ID: id + "/regions", Type: "AnnotationPage", Items: []Annotation{}}
	for _, m := range p.Marks {
		page.Items = append(page.Items, m.annotation(id, p.Width, p.Height))
	}
	c.Annotations = []AnnotationPage{page}
	return c
}

// annotation is a mark on a canvas, in whole pixels, of one at least.
func (m *Mark) annotation(canvas string, width, height int) Annotation {
	w, h := float64(width), float64(height)
	f := Fragment{X: float64(min(int(m.X*w+0.5), width-1)), Y: float64(min(int(m.Y*h+0.5), height-1))}
	f.W, f.H = float64(min(rounded(m.W*w), width-int(f.X))), float64(min(rounded(m.H*h), height-int(f.Y)))
	var texts []Textual
	for _, language := range sortedLanguages(m.Text) {
		for _, value := range m.Text[language] {
			texts = append(texts, Textual{Type: "TextualBody", Value: value, Language: language, Format: "text/plain"})
		}
	}
	return Annotation{ID: canvas + "/regions/" + m.ID, Type: "Annotation", Motivation: "commenting", Body: texts,
		Target: Part{Type: "SpecificResource", Source: canvas, Selector: Selector{"FragmentSelector", MediaFragments, f.String()}}}
}

func sortedLanguages(t Text) []string { return slices.Sorted(maps.Keys(t)) }
