package parts

import (
	"encoding/json"
	"math"
	"reflect"
	"regexp"
	"testing"
)

var keyWithUnit = regexp.MustCompile(`_(ohm|f|hz|v|a|s|db|w|ratio)$|^ratio$`)

// checkKeys walks a result type and wants every figure's JSON key to end in its
// unit.
func checkKeys(t *testing.T, typ reflect.Type) {
	t.Helper()
	switch typ.Kind() {
	case reflect.Slice:
		checkKeys(t, typ.Elem())
	case reflect.Struct:
		for i := range typ.NumField() {
			field := typ.Field(i)
			key := field.Tag.Get("json")
			if key == "" {
				t.Errorf("%s.%s has no JSON key", typ, field.Name)
			}
			if field.Type.Kind() == reflect.Float64 && !keyWithUnit.MatchString(key) {
				t.Errorf("%s.%s: key %q names no unit", typ, field.Name, key)
			}
			checkKeys(t, field.Type)
		}
	}
}

func TestJSONKeysCarryTheirUnit(t *testing.T) {
	for _, result := range []any{
		ShuntResult{}, ShuntChoice{}, SeriesResult{}, DividerResult{}, TrimResult{}, MixResult{},
		MixChange{}, FollowerResult{}, ReservoirResult{}, ReservoirChoice{},
	} {
		checkKeys(t, reflect.TypeOf(result))
	}
	text, err := json.Marshal(ShuntChoice{Series: E12})
	if err != nil || !regexp.MustCompile(`"series":"E12"`).Match(text) {
		t.Errorf("%s, %v", text, err)
	}
}

// FuzzNetworks holds that whatever the values are, a network gives an error or a
// result that has only finite figures and so can be written as JSON.
func FuzzNetworks(f *testing.F) {
	f.Add(75.0, 75.0, 1e-9, 5.0, 0.5, false)
	f.Add(1e-300, 1e300, 1e-300, 1e300, 1e-300, true)
	f.Add(math.Inf(1), math.NaN(), 0.0, -1.0, 1.0, true)
	f.Fuzz(func(t *testing.T, a, b, c, d, e float64, flag bool) {
		check := func(result any, err error) {
			if err != nil {
				return
			}
			if _, err := json.Marshal(result); err != nil {
				t.Errorf("%+v: %v", result, err)
			}
		}
		check(anyOf(ShuntCapacitor{a, b, c, d, []float64{e}}.Calculate()))
		check(anyOf(ShuntTarget{SourceOhm: a, LoadOhm: b, AttenuationDB: c, AtHz: d, Series: E24}.Choose()))
		check(anyOf(SeriesCapacitor{a, b, c, d}.Calculate()))
		check(anyOf(Divider{a, b, c, d}.Calculate()))
		check(anyOf(DividerTarget{e, a, d, b, c, E6, 2}.Pairs()))
		check(anyOf(Trim{a, b, c, d, E12}.Calculate()))
		check(anyOf(Mix{Inputs: []MixInput{{"x", a}, {"y", b}}, LoadOhm: c}.Calculate()))
		check(anyOf(Follower{SupplyV: a, InputOffsetV: d, InputPeakToPeakV: b, BaseEmitterV: 0.7, BaseEmitterAtA: c,
			CurrentGain: 100, SourceOhm: b, EmitterOhm: a, SeriesOhm: 75, LoadOhm: b, ACCoupled: flag, MeanShare: e}.Calculate()))
		reservoir := Reservoir{PeakV: a, LoadA: b, CapacitanceF: c, MainsHz: d, HalfWave: flag}
		check(anyOf(reservoir.Calculate()))
		check(anyOf(ReservoirTarget{reservoir, e, E6}.Choose()))
	})
}

func anyOf[R any](result R, err error) (any, error) { return result, err }
