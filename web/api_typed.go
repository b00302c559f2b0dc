package web

import (
	"path"
	"reflect"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/diagnosis"
)

// kindsExtension names, beside the field of a change, the schema of each kind.
const kindsExtension = "x-kinds"

// typeDocument gives schemas to what Go holds as a value of several types or as JSON: what an event changed, and edits of tables.
func typeDocument(doc *huma.OpenAPI) {
	things := doc.Components.Schemas
	// A registry of their own: a type that has the name of another of the document stands there under the name of its package, too.
	more := huma.NewMapRegistry(schemaPlace, func(t reflect.Type, hint string) string {
		name := huma.DefaultSchemaNamer(t, hint)
		if known := things.TypeFromRef(schemaPlace + name); known != nil && t.Name() != "" && known != bare(t) {
			return camel(path.Base(bare(t).PkgPath())) + name
		}
		return name
	})
	change := changeSchema(more)
	edits := &huma.Schema{Type: huma.TypeArray, Items: more.Schema(reflect.TypeFor[diagnosis.CellEdit](), true, "CellEdit"),
		Description: "Edits of cells that make the tables of to of those of from, where they were not published"}
	for name, thing := range more.Map() {
		if _, known := things.Map()[name]; !known {
			things.Map()[name] = thing
		}
	}
	for _, thing := range things.Map() {
		for name, field := range map[string]*huma.Schema{"change": change, "edits": edits} {
			if was, ok := thing.Properties[name]; ok && isUntyped(was) {
				thing.Properties[name] = field
			}
		}
	}
}

const schemaPlace = "#/components/schemas/"

// bare is what a type points to, or holds a list of.
func bare(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice && t.Name() == "" {
		t = t.Elem()
	}
	return t
}

func isUntyped(s *huma.Schema) bool {
	return s.Type == "" && s.Ref == "" && len(s.OneOf)+len(s.AnyOf)+len(s.AllOf) == 0
}

// changeSchema is any of the changes. Which one it is says kind, which stands beside it and not in it.
func changeSchema(registry huma.Registry) *huma.Schema {
	change, kinds := &huma.Schema{Description: "What was changed, of the form that kind names; left out where the event is hidden"}, map[string]string{}
	for _, kind := range review.EventKinds() {
		name := "Change" + camel(kind)
		schema := registry.Schema(reflect.TypeOf(review.NewChange(kind)).Elem(), false, name)
		schema.Description = "What an event of the kind " + kind + " changed"
		registry.Map()[name] = schema
		kinds[kind] = schemaPlace + name
		change.AnyOf = append(change.AnyOf, &huma.Schema{Ref: kinds[kind]})
	}
	change.Extensions = map[string]any{kindsExtension: kinds}
	return change
}

// camel is a kind as part of a name: label-corrected is LabelCorrected.
func camel(kind string) string {
	parts := strings.Split(kind, "-")
	for i, part := range parts {
		parts[i] = strings.ToUpper(part[:1]) + part[1:]
	}
	return strings.Join(slices.DeleteFunc(parts, func(part string) bool { return part == "" }), "")
}
