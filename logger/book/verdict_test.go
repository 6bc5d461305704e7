package book

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"soakline/checks"
	"soakline/device"
)

// sameBits compares floats bit for bit: NaN is NaN, minus zero is not zero.
var sameBits = cmp.Comparer(func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) })

// randomFill sets every field, so that a field which a verdict gains later is
// covered as well.
func randomFill(t *testing.T, r *rand.Rand, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == timeType {
			v.Set(reflect.ValueOf(begin.Add(time.Duration(r.Int64N(1e15)))))
			return
		}
		for i := range v.NumField() {
			randomFill(t, r, v.Field(i))
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), r.IntN(4), 4))
		for i := range v.Len() {
			randomFill(t, r, v.Index(i))
		}
	case reflect.Float64:
		special := []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.Copysign(0, -1), math.MaxFloat64, 5e-324, 1.0 / 3, r.NormFloat64()}
		v.SetFloat(special[r.IntN(len(special))])
	case reflect.String:
		v.SetString(fmt.Sprintf("text <&> \u2028 \"%d\"\n", r.Int()))
	case reflect.Int, reflect.Int64:
		v.SetInt(r.Int64() - r.Int64())
	case reflect.Bool:
		v.SetBool(r.IntN(2) == 0)
	default:
		t.Fatalf("no random %s", v.Type())
	}
}

func TestAnyVerdictComesBack(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	b, id := soaked(t)
	var want []SoakVerdict
	for range 50 {
		v := SoakVerdict{Soak: id, At: begin}
		randomFill(t, r, reflect.ValueOf(&v.Verdict).Elem())
		must(t, b.PutVerdict(t.Context(), id, begin, v.Verdict))
		want = append(want, v)
	}
	got, err := b.Verdicts(t.Context(), id)
	if diff := cmp.Diff(want, got, sameBits); err != nil || diff != "" {
		t.Fatal(err, diff)
	}
	last, err := b.Verdict(t.Context(), id)
	if diff := cmp.Diff(want[49], last, sameBits); err != nil || diff != "" {
		t.Error(err, diff)
	}
	one, err := EncodeVerdict(want[49].Verdict)
	two, err2 := EncodeVerdict(last.Verdict)
	if err != nil || err2 != nil || !bytes.Equal(one, two) {
		t.Errorf("equal verdicts give different text (%v, %v):\n%s\n%s", err, err2, one, two)
	}
}

// TestVerdictText: what a person finds who opens the book with another tool.
func TestVerdictText(t *testing.T) {
	v := checks.Verdict{Outcome: checks.Undecided, Unit: "B8-0147", Begin: begin, Checks: []checks.CheckResult{
		{Check: checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}, Low: math.NaN(), High: math.Inf(1), Mean: 5.25},
	}}
	text, err := EncodeVerdict(v)
	must(t, err)
	for _, part := range []string{
		`"Outcome":"undecided"`, `"Low":null`, `"High":"inf"`, `"Mean":5.25`, `"Begin":"2026-03-14T09:26:53.589793Z"`, `"Reasons":null`,
	} {
		if !bytes.Contains(text, []byte(part)) {
			t.Errorf("%s is not in %s", part, text)
		}
	}
}

func TestDecodeVerdictRefuses(t *testing.T) {
	for _, text := range []string{
		``, `[]`, `7`, `{"Outcome":7}`, `{"Begin":"yesterday"}`, `{"Begin":7}`, `{"Evidence":"much"}`, `{"Checks":{}}`, `{"Checks":[7]}`,
		`{"Evidence":1e999}`, `{"Checks":[{"Readings":1.5}]}`, `{"Checks":[{"Readings":"x"}]}`,
	} {
		if v, err := DecodeVerdict([]byte(text)); err == nil {
			t.Errorf("%s gave %+v", text, v)
		}
	}
	older, err := DecodeVerdict([]byte(`{"Outcome":"pass","Elsewhere":[1,{"x":2}]}`))
	if err != nil || older.Outcome != checks.Pass {
		t.Errorf("a key of another version: %+v, %v", older, err)
	}
}

func TestPlainHasNoFormForPointers(t *testing.T) {
	if _, err := encodePlain(struct{ P *int }{}); err == nil {
		t.Error("a pointer was encoded")
	}
	var v struct{ P *int }
	if err := decodePlain([]byte(`{"P":1}`), &v); err == nil {
		t.Error("a pointer was decoded")
	}
}

func TestDamagedVerdictIsSaid(t *testing.T) {
	b, id := soaked(t)
	must(t, b.PutVerdict(t.Context(), id, begin, checks.Verdict{Outcome: checks.Pass}))
	_, err := b.writing.ExecContext(t.Context(), `UPDATE verdict SET whole = '{"Outcome":`+"1}'")
	if err == nil {
		t.Fatal("a text went into a blob column")
	}
	_, err = b.writing.ExecContext(t.Context(), `UPDATE verdict SET whole = CAST('{"Outcome":1}' AS BLOB)`)
	must(t, err)
	if _, err := b.Verdict(t.Context(), id); !errors.Is(err, ErrDamaged) {
		t.Errorf("%v, want %v", err, ErrDamaged)
	}
}

func FuzzDecodeVerdict(f *testing.F) {
	text, err := EncodeVerdict(checks.Verdict{Outcome: checks.Pass, Begin: begin, Checks: []checks.CheckResult{{Low: math.NaN()}}})
	must(f, err)
	f.Add(text)
	f.Add([]byte(`{"Evidence":"-inf","Checks":[{"Excursions":[{"From":"2026-03-14T09:26:53Z"}]}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		v, err := DecodeVerdict(text)
		if err != nil {
			return
		}
		again, err := EncodeVerdict(v)
		if err != nil {
			t.Fatal(err)
		}
		back, err := DecodeVerdict(again)
		if diff := cmp.Diff(v, back, sameBits); err != nil || diff != "" {
			t.Fatal(err, diff)
		}
	})
}
