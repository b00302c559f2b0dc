package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
)

// TestBillOfMaterials: the bill follows the published schema of CycloneDX 1.6, as it comes with the module cyclonedx-go, and names every
// module that go.mod asks for and that is in the program; what the source tree holds of others is as its README says.
func TestBillOfMaterials(t *testing.T) {
	t.Parallel()
	got := runHere(t, "", "sbom")
	require.Equal(t, 0, got.code, got.err)
	require.Equal(t, got.out, runHere(t, "", "sbom").out, "the same program, the same bytes")

	folder, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/CycloneDX/cyclonedx-go").Output()
	require.NoError(t, err)
	schema, err := schemaIn(filepath.Join(strings.TrimSpace(string(folder)), "schema"))
	require.NoError(t, err)
	document, err := jsonschema.UnmarshalJSON(strings.NewReader(got.out))
	require.NoError(t, err)
	require.NoError(t, schema.Validate(document))
	document.(map[string]any)["components"].([]any)[0].(map[string]any)["type"] = "beetle"
	require.Error(t, schema.Validate(document), "the schema would find a fault")

	var bom struct {
		Components []struct {
			Name, Version, Purl, Description string
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &bom))
	named := map[string]string{}
	for _, c := range bom.Components {
		named[c.Name] = c.Version
	}
	built, ok := debug.ReadBuildInfo()
	require.True(t, ok)
	require.NotEmpty(t, built.Deps)
	for _, m := range built.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		require.Equal(t, m.Version, named[m.Path])
	}
	for _, module := range []string{"github.com/gin-gonic/gin", "gorm.io/gorm", "github.com/golang-jwt/jwt/v5", "modernc.org/sqlite", "std"} {
		require.NotEmpty(t, named[module], module)
	}
	told, err := os.ReadFile("../../review/photo/wasm/README.md")
	require.NoError(t, err)
	for _, name := range []string{"libheif", "libde265", "libavif", "libaom"} {
		require.True(t, bytes.Contains(told, []byte(name+" "+named[name])), "%s %s", name, named[name])
	}
}

// schemaIn compiles the schema of CycloneDX 1.6 with those that it names, which lie beside it.
func schemaIn(folder string) (*jsonschema.Schema, error) {
	compiler := jsonschema.NewCompiler()
	for place, name := range map[string]string{"http://cyclonedx.org/schema/jsf-0.82.schema.json": "jsf-0.82.schemax.json",
		"http://cyclonedx.org/schema/spdx.schema.json": "spdx.schema.json", "http://cyclonedx.org/schema/bom-1.6.schema.json": "bom-1.6.schema.json"} {
		file, err := os.Open(filepath.Join(folder, name))
		if err != nil {
			return nil, err
		}
		defer file.Close()
		document, err := jsonschema.UnmarshalJSON(file)
		if err != nil {
			return nil, err
		}
		if err := compiler.AddResource(place, document); err != nil {
			return nil, err
		}
	}
	return compiler.Compile("http://cyclonedx.org/schema/bom-1.6.schema.json")
}
