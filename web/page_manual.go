package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/web/pages"
)

// manualPath is where people read what programs can do.
const manualPath = "/api"

// registerManual adds the page for people, made once of the same document that machines get.
func (a *api) registerManual(r *gin.Engine, group *gin.RouterGroup) {
	a.document = a.doors.OpenAPI()
	made := sync.OnceValues(func() (pages.Manual, error) { return manualOf(a.document) })
	r.GET(manualPath, func(c *gin.Context) {
		m, err := made()
		if err != nil {
			a.fail(c, fmt.Errorf("web: page of the API: %w", err))
			return
		}
		a.page(c, http.StatusOK, pages.ManualPage(a.site(c), m))
	})
	group.GET("/", func(c *gin.Context) { c.Redirect(http.StatusSeeOther, manualPath) })
}

// manual makes the page of a document.
type manual struct {
	doc    *huma.OpenAPI
	things map[string]*huma.Schema
}

func manualOf(doc *huma.OpenAPI) (pages.Manual, error) {
	m := manual{doc: doc, things: doc.Components.Schemas.Map()}
	made := pages.Manual{Title: doc.Info.Title, Version: doc.Info.Version, About: doc.Info.Description}
	for _, o := range operationsOf(doc) {
		told, err := m.operation(o)
		if err != nil {
			return pages.Manual{}, err
		}
		i := slices.IndexFunc(made.Groups, func(g pages.ManualGroup) bool { return g.Name == o.Tags[0] })
		if i < 0 {
			i = len(made.Groups)
			made.Groups = append(made.Groups, pages.ManualGroup{Name: o.Tags[0]})
		}
		made.Groups[i].Operations = append(made.Groups[i].Operations, told)
	}
	slices.SortFunc(made.Groups, func(a, b pages.ManualGroup) int {
		// Whoever begins, begins with the login.
		return cmp.Or(cmp.Compare(boolInt(a.Name != "login"), boolInt(b.Name != "login")), cmp.Compare(a.Name, b.Name))
	})
	for _, name := range slices.Sorted(maps.Keys(m.things)) {
		made.Things = append(made.Things, pages.ManualThing{Name: name, About: m.things[name].Description, Fields: m.fields(m.things[name])})
	}
	return made, nil
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// operationsOf are all operations, by path and then as things are read, made, changed and removed.
func operationsOf(doc *huma.OpenAPI) (all []*huma.Operation) {
	for _, path := range slices.Sorted(maps.Keys(doc.Paths)) {
		item := doc.Paths[path]
		for _, o := range []*huma.Operation{item.Get, item.Post, item.Put, item.Patch, item.Delete} {
			if o != nil {
				all = append(all, o)
			}
		}
	}
	return all
}

func (m manual) operation(o *huma.Operation) (pages.ManualOperation, error) {
	told := pages.ManualOperation{ID: o.OperationID, Method: o.Method, Path: o.Path, Summary: o.Summary, About: o.Description, Open: len(o.Security) == 0}
	for _, p := range o.Parameters {
		if p.Ref != "" {
			return told, fmt.Errorf("%s: a parameter is named elsewhere", o.OperationID)
		}
		told.Parameters = append(told.Parameters, pages.ManualField{Name: p.Name, In: p.In, About: cmp.Or(p.Description, p.Schema.Description),
			Required: p.Required || p.In == "path", Type: m.typeOf(p.Schema)})
	}
	if o.RequestBody != nil {
		told.Bodies = m.bodies(o.RequestBody.Content)
	}
	for _, status := range slices.Sorted(maps.Keys(o.Responses)) {
		r := o.Responses[status]
		if r.Ref != "" {
			r = m.doc.Components.Responses[strings.TrimPrefix(r.Ref, "#/components/responses/")]
		}
		if r == nil {
			return told, fmt.Errorf("%s: an answer is nowhere", o.OperationID)
		}
		told.Answers = append(told.Answers, pages.ManualAnswer{Status: status, About: r.Description, Headers: m.headers(r.Headers), Bodies: m.bodies(r.Content)})
	}
	var err error
	if told.Who, err = whoMay(o); err != nil {
		return told, fmt.Errorf("%s: %w", o.OperationID, err)
	}
	told.Call, err = m.call(o)
	return told, err
}

// permissionExtension is where an operation says who may do it: the rows of the permission table.
const permissionExtension = "x-permission"

func whoMay(o *huma.Operation) (who []pages.ManualWho, err error) {
	if o.Extensions[permissionExtension] == nil {
		return nil, nil
	}
	text, err := json.Marshal(o.Extensions[permissionExtension])
	if err != nil {
		return nil, err
	}
	var said struct{ Rows []pages.ManualWho }
	if err := json.Unmarshal(text, &said); err != nil {
		return nil, err
	}
	for _, row := range said.Rows {
		if !slices.ContainsFunc(who, func(w pages.ManualWho) bool { return w.Whose == row.Whose && slices.Equal(w.Roles, row.Roles) }) {
			who = append(who, row)
		}
	}
	return who, nil
}

func (m manual) headers(from map[string]*huma.Param) (told []pages.ManualField) {
	for _, name := range slices.Sorted(maps.Keys(from)) {
		told = append(told, pages.ManualField{Name: name, About: from[name].Description, Type: m.typeOf(from[name].Schema)})
	}
	return told
}

func (m manual) bodies(content map[string]*huma.MediaType) (told []pages.ManualBody) {
	for _, media := range slices.Sorted(maps.Keys(content)) {
		b := pages.ManualBody{Media: media}
		if s := content[media].Schema; s != nil {
			b.Type = m.typeOf(s)
			if s.Ref == "" {
				b.Fields = m.fields(s)
			}
		}
		told = append(told, b)
	}
	return told
}

// fields are those of an object, those that have to be there first.
func (m manual) fields(s *huma.Schema) (told []pages.ManualField) {
	for name, field := range s.Properties {
		told = append(told, pages.ManualField{Name: name, About: field.Description, Required: slices.Contains(s.Required, name), Type: m.typeOf(field)})
	}
	slices.SortFunc(told, func(a, b pages.ManualField) int {
		return cmp.Or(cmp.Compare(boolInt(!a.Required), boolInt(!b.Required)), cmp.Compare(a.Name, b.Name))
	})
	return told
}

func thingName(ref string) string { return strings.TrimPrefix(ref, "#/components/schemas/") }

func (m manual) typeOf(s *huma.Schema) pages.ManualType {
	if s == nil {
		return pages.ManualType{Kind: "any"}
	}
	if s.Ref != "" {
		return pages.ManualType{Thing: thingName(s.Ref)}
	}
	t := pages.ManualType{Kind: kindOf(s), Pattern: s.Pattern, Null: s.Nullable}
	for _, choice := range s.Enum {
		t.Choice = append(t.Choice, fmt.Sprint(choice))
	}
	if s.Default != nil {
		t.Usual = strings.Trim(fmt.Sprint(s.Default), "[]")
	}
	switch t.Kind {
	case "string":
		t.Least, t.Most = count(s.MinLength), count(s.MaxLength)
	case "list":
		of := m.typeOf(s.Items)
		t.Of, t.Least, t.Most = &of, count(s.MinItems), count(s.MaxItems)
	case "map":
		of := m.typeOf(s.AdditionalProperties.(*huma.Schema))
		t.Of, t.Least, t.Most = &of, count(s.MinProperties), count(s.MaxProperties)
	case "integer", "number":
		t.Least, t.Most = number(s.Minimum), number(s.Maximum)
	}
	return t
}

func kindOf(s *huma.Schema) string {
	_, named := s.AdditionalProperties.(*huma.Schema)
	switch {
	case s.Format == "binary":
		return "file"
	case s.Format == "date-time":
		return "time"
	case s.Format == "date":
		return "day"
	case s.Type == "array":
		return "list"
	case s.Type == "object" && named:
		return "map"
	case s.Type == "":
		return "any"
	}
	return s.Type
}

func count(n *int) string {
	if n == nil || *n == 0 {
		return ""
	}
	return strconv.Itoa(*n)
}

func number(n *float64) string {
	if n == nil {
		return ""
	}
	return strconv.FormatFloat(*n, 'g', -1, 64)
}
