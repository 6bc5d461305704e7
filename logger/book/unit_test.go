package book

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestUnits(t *testing.T) {
	b := openNew(t)
	later := Unit{ID: "CC2-0003", Console: "Corncrake II", Added: begin, Notes: []Note{{At: begin, Text: "case cracked"}}}
	must(t, b.AddUnit(t.Context(), later))
	addUnit(t, b, "B8-0147")
	must(t, b.AddNote(t.Context(), "B8-0147", Note{Text: "picture dim; sat in a shed"}))
	want := []Unit{
		{ID: "B8-0147", Console: "Brambling 8", Added: begin, Notes: []Note{{At: begin, Text: "picture dim; sat in a shed"}}}, later,
	}
	got, err := b.Units(t.Context())
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Error(err, diff)
	}
	for name, refused := range map[string]struct{ got, want error }{
		"taken":      {b.AddUnit(t.Context(), later), ErrExists},
		"no console": {b.AddUnit(t.Context(), Unit{ID: "x"}), ErrInvalid},
		"no number":  {b.AddUnit(t.Context(), Unit{Console: "x"}), ErrInvalid},
		"empty note": {b.AddNote(t.Context(), "B8-0147", Note{}), ErrInvalid},
	} {
		if !errors.Is(refused.got, refused.want) {
			t.Errorf("%s: %v, want %v", name, refused.got, refused.want)
		}
	}
}
