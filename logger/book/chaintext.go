package book

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// chainedKind is a kind of record that is chained.
type chainedKind struct {
	name string
	// from is the table, key the columns that tell a record from the others, and
	// columns all that is chained of it. A kind's columns never change: a new one
	// belongs into a kind of its own.
	from    string
	key     []string
	columns string
	// place names a record by its key.
	place string
}

// finalVerdictKind is the kind of a verdict on a final test. Its text has every
// figure, answer and reason of the test.
const finalVerdictKind = "final-verdict"

// chainedKinds are what the chain holds. Of a soak, a verdict's text has what does
// not change after its begin; its end is in the verdict.
var chainedKinds = []chainedKind{
	{
		name: "excursion", from: "excursion", key: []string{"soak", "test_point", "measure", "from_us", "state"},
		columns: "soak, test_point, measure, from_us, to_us, state, edge, worst, worst_at_us, worst_u, edge_value",
		place:   "excursion of soak %v at %v %v from %v µs, %v",
	},
	{
		name: "verdict", from: "verdict JOIN soak ON soak.id = verdict.soak", key: []string{"verdict.id"},
		columns: "verdict.id, verdict.soak, bench, place, unit, sheet, planned_us, begin_us, at_us, outcome, evidence, sheet_hash, whole",
		place:   "verdict %v",
	},
	{
		name: finalVerdictKind, from: "final_verdict JOIN final_test ON final_test.id = final_verdict.final", key: []string{"final_verdict.id"},
		columns: "final_verdict.id, final_verdict.final, bench, place, unit, sheet, begin_us, end_us, given_up, at_us, outcome, sheet_hash, whole",
		place:   "verdict %v on a final test",
	},
}

func kindNamed(name string) (chainedKind, error) {
	for _, k := range chainedKinds {
		if k.name == name {
			return k, nil
		}
	}
	return chainedKind{}, fmt.Errorf("there is no chained record of kind %q", name)
}

// recordKey writes a record's key as the chain keeps it.
func recordKey(values ...any) string {
	text, err := json.Marshal(values)
	if err != nil {
		panic(err) // numbers and strings only
	}
	return string(text)
}

// keyValues reads what recordKey wrote.
func keyValues(record string) ([]any, error) {
	decoder := json.NewDecoder(strings.NewReader(record))
	decoder.UseNumber()
	var values []any
	if err := decoder.Decode(&values); err != nil {
		return nil, fmt.Errorf("key %q: %w", record, err)
	}
	for i, value := range values {
		if number, ok := value.(json.Number); ok {
			n, err := number.Int64()
			if err != nil {
				return nil, fmt.Errorf("key %q: %w", record, err)
			}
			values[i] = n
		}
	}
	return values, nil
}

// errNoRecord says that a record is not there.
var errNoRecord = errors.New("it is not in the book")

// recordDigest returns the SHA-256 of a record's canonical text.
func recordDigest(ctx context.Context, in asker, kind, record string) (string, error) {
	text, err := canonical(ctx, in, kind, record)
	return hashHex(text), err
}

// canonical writes a record as it is hashed: a JSON array of the kind's name and a
// [column, value] for each column in the kind's order. Whole numbers are numbers,
// floats the shortest text that gives them, blobs Base64, and NULL null.
func canonical(ctx context.Context, in asker, kind, record string) ([]byte, error) {
	columns, values, err := chainedRow(ctx, in, kind, record)
	if err != nil {
		return nil, err
	}
	return canonicalText(kind, columns, values)
}

// chainedRow reads all that is chained of a record.
func chainedRow(ctx context.Context, in asker, kind, record string) (columns []string, values []any, err error) {
	k, err := kindNamed(kind)
	if err != nil {
		return nil, nil, err
	}
	key, err := keyValues(record)
	if err != nil {
		return nil, nil, err
	}
	if len(key) != len(k.key) {
		return nil, nil, fmt.Errorf("key %q has %d parts, not %d", record, len(key), len(k.key))
	}
	query := "SELECT " + k.columns + " FROM " + k.from + " WHERE " + strings.Join(k.key, " = ? AND ") + " = ?" // #nosec G202 -- constants
	rows, err := in.QueryContext(ctx, query, key...)
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	if !rows.Next() {
		return nil, nil, errors.Join(rows.Err(), errNoRecord)
	}
	if columns, err = rows.Columns(); err != nil {
		return nil, nil, err
	}
	values = make([]any, len(columns))
	targets := make([]any, len(columns))
	for i := range values {
		targets[i] = &values[i]
	}
	if err := rows.Scan(targets...); err != nil {
		return nil, nil, err
	}
	return columns, values, nil
}

func canonicalText(kind string, columns []string, values []any) ([]byte, error) {
	tree := []any{kind}
	for i, value := range values {
		if f, ok := value.(float64); ok {
			value = strconv.FormatFloat(f, 'g', -1, 64)
		}
		tree = append(tree, []any{columns[i], value})
	}
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	err := encoder.Encode(tree)
	return bytes.TrimSuffix(text.Bytes(), []byte("\n")), err
}
