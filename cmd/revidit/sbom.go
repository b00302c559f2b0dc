package main

import (
	"context"
	"errors"
	"runtime/debug"

	"github.com/CycloneDX/cyclonedx-go"
)

type sbomCommand struct{}

// Run writes what this very program is built of to standard output, as a bill of materials in the form of CycloneDX 1.6, JSON.
func (c *sbomCommand) Run(_ context.Context, on console) error {
	built, ok := debug.ReadBuildInfo()
	if !ok {
		return errors.New("this program does not say what it is built of: it was built without modules")
	}
	encoder := cyclonedx.NewBOMEncoder(on.out, cyclonedx.BOMFileFormatJSON)
	return encoder.SetPretty(true).EncodeVersion(materials(built), cyclonedx.SpecVersion1_6)
}

// vendored are parts of others that stand in the source tree as they are, each with a file that says where it is from.
var vendored = []cyclonedx.Component{
	{Name: "libheif", Version: "1.18.2", PackageURL: "pkg:github/strukturag/libheif@v1.18.2", Licenses: licence("LGPL-3.0-or-later"), Description: "in review/photo/wasm/heif.wasm.gz"},
	{Name: "libde265", Version: "1.0.15", PackageURL: "pkg:github/strukturag/libde265@v1.0.15", Licenses: licence("LGPL-3.0-or-later"), Description: "in review/photo/wasm/heif.wasm.gz"},
	{Name: "libavif", Version: "1.1.1", PackageURL: "pkg:github/AOMediaCodec/libavif@v1.1.1", Licenses: licence("BSD-2-Clause"), Description: "in review/photo/wasm/avif.wasm.gz"},
	{Name: "libaom", Version: "3.10.0", PackageURL: "pkg:generic/libaom@3.10.0", Licenses: licence("BSD-2-Clause"), Description: "in review/photo/wasm/avif.wasm.gz"},
	{Name: "liberation-fonts", Version: "2", PackageURL: "pkg:github/liberationfonts/liberation-fonts", Licenses: licence("OFL-1.1"), Description: "in review/label/sheet/font and web/booklet/font"},
}

func licence(id string) *cyclonedx.Licenses {
	return &cyclonedx.Licenses{{License: &cyclonedx.License{ID: id}}}
}

// materials are the program, the Go that it is built with, the modules that are in it, and what stands in its source tree. It holds nothing
// of the time or the machine: the same program gives the same bytes.
func materials(built *debug.BuildInfo) *cyclonedx.BOM {
	main := golang(cyclonedx.ComponentTypeApplication, "revidit", version, "")
	bom := cyclonedx.NewBOM()
	bom.Metadata = &cyclonedx.Metadata{Component: &main}
	parts := []cyclonedx.Component{golang(cyclonedx.ComponentTypeLibrary, "std", built.GoVersion, "")}
	for _, m := range built.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		parts = append(parts, golang(cyclonedx.ComponentTypeLibrary, m.Path, m.Version, m.Sum))
	}
	for _, part := range vendored {
		part.Type, part.BOMRef = cyclonedx.ComponentTypeLibrary, part.PackageURL
		parts = append(parts, part)
	}
	var all []string
	for _, part := range parts {
		all = append(all, part.BOMRef)
	}
	bom.Components = &parts
	bom.Dependencies = &[]cyclonedx.Dependency{{Ref: main.BOMRef, Dependencies: &all}}
	return bom
}

// golang is a module. Its sum in go.sum is none of a file, so that it is no hash in the sense of the form.
func golang(kind cyclonedx.ComponentType, path, version, sum string) cyclonedx.Component {
	address := "pkg:golang/" + path + "@" + version
	made := cyclonedx.Component{Type: kind, BOMRef: address, Name: path, Version: version, PackageURL: address}
	if sum != "" {
		made.Properties = &[]cyclonedx.Property{{Name: "go:sum", Value: sum}}
	}
	return made
}
