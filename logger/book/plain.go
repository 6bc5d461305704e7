package book

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"time"
)

var (
	timeType   = reflect.TypeFor[time.Time]()
	infinities = map[string]int{"inf": 1, "-inf": -1}
)

// encodePlain writes a plain value (structs of exported fields, slices, strings,
// numbers, booleans, times) as JSON that decodePlain reads back bit for bit.
// encoding/json alone refuses NaN and the infinities: here NaN, not measured, is
// null, and an infinity, no limit on that side, is "inf" or "-inf". Keys are the
// fields' names; times are UTC.
func encodePlain(v any) ([]byte, error) {
	tree, err := toTree(reflect.ValueOf(v))
	if err != nil {
		return nil, err
	}
	return json.Marshal(tree)
}

func toTree(v reflect.Value) (any, error) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == timeType {
			return v.Interface().(time.Time).UTC().Format(time.RFC3339Nano), nil
		}
		return structToTree(v)
	case reflect.Slice:
		if v.IsNil() {
			return nil, nil
		}
		items := make([]any, v.Len())
		for i := range items {
			var err error
			if items[i], err = toTree(v.Index(i)); err != nil {
				return nil, err
			}
		}
		return items, nil
	case reflect.Float64:
		return floatToTree(v.Float()), nil
	case reflect.String:
		return v.String(), nil
	case reflect.Bool:
		return v.Bool(), nil
	case reflect.Int, reflect.Int64:
		return v.Int(), nil
	}
	return nil, fmt.Errorf("a %s has no plain form", v.Type())
}

func structToTree(v reflect.Value) (any, error) {
	fields := make(map[string]any, v.NumField())
	for i := range v.NumField() {
		item, err := toTree(v.Field(i))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", v.Type().Field(i).Name, err)
		}
		fields[v.Type().Field(i).Name] = item
	}
	return fields, nil
}

func floatToTree(f float64) any {
	switch {
	case math.IsNaN(f):
		return nil
	case math.IsInf(f, 1):
		return "inf"
	case math.IsInf(f, -1):
		return "-inf"
	}
	return f
}

// decodePlain fills a value from what encodePlain wrote. A field that the text
// does not have stays as it is, a key that the value does not have is passed over:
// the text may be of an earlier or a later program.
func decodePlain(text []byte, into any) error {
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.UseNumber()
	var tree any
	if err := decoder.Decode(&tree); err != nil {
		return err
	}
	return fromTree(tree, reflect.ValueOf(into).Elem())
}

func fromTree(tree any, v reflect.Value) error {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == timeType {
			return timeFromTree(tree, v)
		}
		return structFromTree(tree, v)
	case reflect.Slice:
		return sliceFromTree(tree, v)
	case reflect.Float64:
		return floatFromTree(tree, v)
	case reflect.Int, reflect.Int64:
		return intFromTree(tree, v)
	case reflect.String:
		text, ok := tree.(string)
		v.SetString(text)
		return expected(ok, "a text", tree)
	case reflect.Bool:
		truth, ok := tree.(bool)
		v.SetBool(truth)
		return expected(ok, "true or false", tree)
	}
	return fmt.Errorf("a %s has no plain form", v.Type())
}

func structFromTree(tree any, v reflect.Value) error {
	fields, ok := tree.(map[string]any)
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		item, there := fields[name]
		if !there {
			continue
		}
		if err := fromTree(item, v.Field(i)); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return expected(ok, "an object", tree)
}

func sliceFromTree(tree any, v reflect.Value) error {
	if tree == nil {
		v.SetZero()
		return nil
	}
	items, ok := tree.([]any)
	if !ok {
		return expected(false, "a list", tree)
	}
	list := reflect.MakeSlice(v.Type(), len(items), len(items))
	for i, item := range items {
		if err := fromTree(item, list.Index(i)); err != nil {
			return fmt.Errorf("[%d]: %w", i, err)
		}
	}
	v.Set(list)
	return nil
}

func timeFromTree(tree any, v reflect.Value) error {
	text, ok := tree.(string)
	if !ok {
		return expected(false, "a time", tree)
	}
	at, err := time.Parse(time.RFC3339Nano, text)
	v.Set(reflect.ValueOf(at.UTC()))
	return err
}

func floatFromTree(tree any, v reflect.Value) error {
	switch item := tree.(type) {
	case nil:
		v.SetFloat(math.NaN())
		return nil
	case json.Number:
		f, err := strconv.ParseFloat(item.String(), 64)
		v.SetFloat(f)
		return err
	case string:
		if sign, ok := infinities[item]; ok {
			v.SetFloat(math.Inf(sign))
			return nil
		}
	}
	return expected(false, "a number", tree)
}

func intFromTree(tree any, v reflect.Value) error {
	item, ok := tree.(json.Number)
	if !ok {
		return expected(false, "a whole number", tree)
	}
	n, err := strconv.ParseInt(item.String(), 10, 64)
	v.SetInt(n)
	return err
}

func expected(ok bool, what string, tree any) error {
	if ok {
		return nil
	}
	return fmt.Errorf("%v is not %s", tree, what)
}
