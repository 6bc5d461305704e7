package page

import (
	"net/http"
	"reflect"
	"regexp"
	"strconv"
	"strings"
)

// openAPIVersion is the version of the description's form (OpenAPI 3.1.0, 4.8.1).
const openAPIVersion = "3.1.0"

func (s *Server) openAPIRoutes() []route {
	return []route{{method: http.MethodGet, path: "/api/v1/openapi.json", about: "Describes all of this (OpenAPI 3.1).",
		gives: reflect.TypeFor[map[string]any](), status: http.StatusOK,
		serve: func(w http.ResponseWriter, r *http.Request) { give(w, r, http.StatusOK, describe(s.routes()), nil) }}}
}

// describe writes the description of all endpoints.
func describe(routes []route) map[string]any {
	made := &schemas{components: map[string]schema{}}
	problem := made.of(reflect.TypeFor[Problem]())
	paths := map[string]map[string]any{}
	for _, e := range routes {
		if paths[e.path] == nil {
			paths[e.path] = map[string]any{}
		}
		paths[e.path][strings.ToLower(e.method)] = e.describe(made, problem)
	}
	return map[string]any{
		"openapi": openAPIVersion,
		"info": map[string]any{"title": "soakline", "version": "1",
			"description": "One bench. Figures are in SI units; null is what is not known. Times are RFC 3339, or seconds since 1970 UTC where the key ends in _s."},
		"paths": paths,
		"components": map[string]any{"schemas": made.components,
			"securitySchemes": map[string]any{"token": map[string]any{"type": "http", "scheme": "bearer"}}},
	}
}

// pathKey finds the keys of a path.
var pathKey = regexp.MustCompile(`\{(\w+)\}`)

// describe writes one operation.
func (e route) describe(made *schemas, problem schema) map[string]any {
	parameters := []map[string]any{}
	for _, key := range pathKey.FindAllStringSubmatch(e.path, -1) {
		parameters = append(parameters, map[string]any{"name": key[1], "in": "path", "required": true, "schema": schema{"type": "string"}})
	}
	for _, p := range e.query {
		parameters = append(parameters, p.describe())
	}
	operation := map[string]any{"summary": e.about, "parameters": parameters, "responses": map[string]any{
		strconv.Itoa(e.status): map[string]any{"description": e.about, "content": e.content(made)},
		"default":              map[string]any{"description": "It was refused; the text says why.", "content": jsonContent(problem)},
	}}
	if e.takes != nil {
		operation["requestBody"] = map[string]any{"required": true, "content": jsonContent(made.of(e.takes))}
	}
	return operation
}

// content is the form of the answer.
func (e route) content(made *schemas) map[string]any {
	form := schema{"type": "string"}
	if e.gives != nil {
		form = made.of(e.gives)
	}
	if e.media == "" {
		return jsonContent(form)
	}
	return map[string]any{e.media: map[string]any{"schema": form}}
}

func jsonContent(form schema) map[string]any {
	return map[string]any{"application/json": map[string]any{"schema": form}}
}

// describe writes one key of a query.
func (p parameter) describe() map[string]any {
	form := schema{"type": plainTypes[p.kind]}
	if p.many {
		form = schema{"type": "array", "items": form}
	}
	return map[string]any{"name": p.name, "in": "query", "required": p.needed, "description": p.about, "schema": form}
}
