package iiif

// Contexts of the standards.
const (
	imageContext        = "http://iiif.io/api/image/3/context.json"
	presentationContext = "http://iiif.io/api/presentation/3/context.json"
)

// Media types of descriptions, with the profile that the standards ask for.
const (
	ImageMedia        = `application/ld+json;profile="http://iiif.io/api/image/3/context.json"`
	PresentationMedia = `application/ld+json;profile="http://iiif.io/api/presentation/3/context.json"`
)

// ImageLevel is the IRI of the compliance level, for the Link header.
const ImageLevel = "http://iiif.io/api/image/3/level1.json"

// TileSide is the side of a tile in pixels.
const TileSide = 512

// Info describes an image (Image API 3.0, section 5).
type Info struct {
	Context       string   `json:"@context"`
	ID            string   `json:"id"`
	Type          string   `json:"type"`
	Protocol      string   `json:"protocol"`
	Profile       string   `json:"profile"`
	Width         int      `json:"width"`
	Height        int      `json:"height"`
	Sizes         []Extent `json:"sizes,omitempty"`
	Tiles         []Tiles  `json:"tiles"`
	Rights        string   `json:"rights,omitempty"`
	ExtraFeatures []string `json:"extraFeatures"`
	ExtraQuality  []string `json:"extraQualities"`
}

// Extent is a size at which the whole image is there already.
type Extent struct {
	Width  int `json:"width"`
	Height int `json:"height"`
}

// Tiles are the pieces that a viewer may ask for, each at a scale of one to a factor.
type Tiles struct {
	Width        int   `json:"width"`
	ScaleFactors []int `json:"scaleFactors"`
}

// InfoOf describes an image of width by height at an address. sizes are those that are there already, the smallest first; rights is the
// IRI of a licence, or empty.
func InfoOf(id string, width, height int, sizes []Extent, rights string) Info {
	factors := []int{1}
	for side := max(width, height); side > TileSide*factors[len(factors)-1]; {
		factors = append(factors, 2*factors[len(factors)-1])
	}
	return Info{Context: imageContext, ID: id, Type: "ImageService3", Protocol: "http://iiif.io/api/image", Profile: "level1", Width: width, Height: height,
		Sizes: sizes, Tiles: []Tiles{{TileSide, factors}}, Rights: rights, ExtraQuality: []string{"color"},
		ExtraFeatures: []string{"canonicalLinkHeader", "profileLinkHeader", "regionByPct", "sizeByConfinedWh", "sizeByPct"}}
}
