package page

import (
	"reflect"
	"strings"
	"time"

	"soakline/checks"
	"soakline/logger"
)

// schema is a JSON Schema as OpenAPI 3.1 has it.
type schema map[string]any

// words are the types whose values are a few words.
var words = map[reflect.Type][]any{
	reflect.TypeFor[checks.State]():    {checks.Settling, checks.Within, checks.Borderline, checks.Outside, checks.Silent},
	reflect.TypeFor[checks.Outcome]():  {checks.Pass, checks.Fail, checks.Undecided},
	reflect.TypeFor[checks.StepKind](): {checks.StepMeasure, checks.StepSoak, checks.StepDischarge, checks.StepQuestion, checks.StepWait},
	reflect.TypeFor[checks.StepAct]():  {checks.Taken, checks.Skipped, checks.Unread},
	reflect.TypeFor[checks.Answer]():   {checks.Yes, checks.No},
	reflect.TypeFor[checks.Sense]():    {checks.Look, checks.Listen, checks.Press},
	reflect.TypeFor[ChartKind]():       {EnvelopeKind, ReadingsKind},
	reflect.TypeFor[logger.HappeningKind](): {logger.SoakBegun, logger.SoakOver, logger.VerdictGiven, logger.ExcursionBegan, logger.ExcursionOver,
		logger.StateChange, logger.CheckUndecided, logger.RoundBegun, logger.PointRead, logger.RoundOver, logger.PortChange,
		logger.DischargeStand, logger.FinalStep},
}

// schemas turns Go types into schemas; structs become components.
type schemas struct {
	components map[string]schema
}

// of is the schema of a type as encoding/json writes it.
func (s *schemas) of(t reflect.Type) schema {
	if values, few := words[t]; few {
		return schema{"type": "string", "enum": values}
	}
	switch t {
	case reflect.TypeFor[time.Time]():
		return schema{"type": "string", "format": "date-time"}
	case reflect.TypeFor[Column]():
		return schema{"type": "array", "items": schema{"type": []string{"number", "null"}}}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return nullable(s.of(t.Elem()))
	case reflect.Struct:
		return s.component(t)
	case reflect.Slice:
		return schema{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return schema{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Interface:
		return schema{} // anything
	default:
		return schema{"type": plainTypes[t.Kind()]}
	}
}

// plainTypes are what JSON calls the kinds of plain values.
var plainTypes = map[reflect.Kind]string{
	reflect.Bool: "boolean", reflect.String: "string", reflect.Float64: "number",
	reflect.Int: "integer", reflect.Int64: "integer", reflect.Uint64: "integer",
}

// nullable is a schema that takes null as well.
func nullable(of schema) schema {
	if kind, plain := of["type"].(string); plain && of["enum"] == nil {
		of["type"] = []string{kind, "null"}
		return of
	}
	return schema{"anyOf": []schema{of, {"type": "null"}}}
}

// component names a struct's schema, making it if it is not there yet.
func (s *schemas) component(t reflect.Type) schema {
	name := strings.TrimSuffix(t.Name(), "View")
	if _, known := s.components[name]; !known {
		s.components[name] = nil // for a type that contains itself
		s.components[name] = s.object(t)
	}
	return schema{"$ref": "#/components/schemas/" + name}
}

// object is the schema of a struct's fields; nothing else is in it.
func (s *schemas) object(t reflect.Type) schema {
	properties, required := map[string]schema{}, []string{}
	for field := range fieldsOf(t) {
		name, options, _ := strings.Cut(field.Tag.Get("json"), ",")
		properties[name] = s.of(field.Type)
		if field.Tag.Get("null") == "true" { // a slice that can be null
			properties[name] = nullable(properties[name])
		}
		if !strings.Contains(options, "omit") {
			required = append(required, name)
		} else if field.Type.Kind() == reflect.Pointer {
			properties[name] = s.of(field.Type.Elem()) // left out, never null
		}
	}
	return schema{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
}

// fieldsOf are the fields of a struct that JSON shows, those of embedded structs
// as its own.
func fieldsOf(t reflect.Type) func(func(reflect.StructField) bool) {
	return func(yield func(reflect.StructField) bool) {
		for _, field := range reflect.VisibleFields(t) {
			if field.Anonymous || !field.IsExported() || field.Tag.Get("json") == "-" {
				continue
			}
			if !yield(field) {
				return
			}
		}
	}
}
