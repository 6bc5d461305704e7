package book

import (
	"context"
	"database/sql"
	"strings"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// taggedFinal is a verdict on a final test and what it is tagged with.
type taggedFinal struct {
	tag Tag
	FinalVerdict
}

const selectTaggedFinal = `SELECT final, at_us, whole, final_test.bench, console, final_test.unit FROM final_verdict
	JOIN final_test ON final_test.id = final JOIN unit ON asset = final_test.unit`

func scanTaggedFinal(rows *sql.Rows) (taggedFinal, error) {
	var t taggedFinal
	var err error
	t.FinalVerdict, err = scanFinalVerdict(rows, &t.tag.Bench, &t.tag.Console, &t.tag.Unit)
	return t, err
}

// finalVerdict writes a verdict on a final test: a verdict as that on a soak is, with
// the number of the final test in the place of the soak's. Times in its reasons are in
// UTC.
func (w *lineWriter) finalVerdict(v taggedFinal) error {
	var reasons []string
	for _, r := range v.Reasons {
		reasons = append(reasons, r.Text)
	}
	w.start(verdictLine, v.tag)
	w.encoder.AddField("final", lineprotocol.IntValue(int64(v.Final)))
	w.text("outcome", string(v.Outcome))
	w.text("reasons", strings.Join(reasons, "\n"))
	w.text("sheet", v.SheetName)
	w.text("sheet_hash", v.SheetHash)
	return w.end(v.At)
}

// finalLines gives the lines of the verdicts on final tests that match a filter, with
// times after and up to a moment, in microseconds. They are of no soak and of no test
// point.
func (b *Book) finalLines(ctx context.Context, f Filter, after, upTo int64) ([]recordLine, error) {
	if f.Soak != 0 || f.TestPoint != "" || f.Measure != "" {
		return nil, nil
	}
	finals, err := collect(ctx, b, "list verdicts on final tests", selectTaggedFinal+` WHERE at_us > ?1 AND at_us <= ?2
		AND (?3 = '' OR final_test.bench = ?3) AND (?4 = '' OR console = ?4) AND (?5 = '' OR final_test.unit = ?5)`,
		[]any{after, upTo, f.Bench, string(f.Console), string(f.Unit)}, scanTaggedFinal)
	if err != nil {
		return nil, err
	}
	lines := make([]recordLine, len(finals))
	for i, v := range finals {
		lines[i] = recordLine{at: v.At.UnixNano(), kind: verdictLine}
		if lines[i].text, err = oneLine(func(w *lineWriter) error { return w.finalVerdict(v) }); err != nil {
			return nil, err
		}
	}
	return lines, nil
}

// finalVerdict gives the verdict on a final test that a link of the chain is about.
func (o *Outgoing) finalVerdict(ctx context.Context, p *Parcel, key []any) error {
	found, err := collect(ctx, o.book, "ship", selectTaggedFinal+` WHERE final_verdict.id = ?`, key, scanTaggedFinal)
	if err != nil || len(found) == 0 {
		return err
	}
	err = o.lines.finalVerdict(found[0])
	p.end(o)
	return err
}
