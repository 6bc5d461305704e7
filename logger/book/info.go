package book

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"time"
)

// Info is what a book holds and how much room it takes.
type Info struct {
	Path    string
	Version int // of the form
	Program string
	// FileBytes is the size of the file, LogBytes that of the log beside it, and
	// FreeBytes the part of the file that is not in use.
	FileBytes, LogBytes, FreeBytes int64
	Pages, PageBytes               int64
	Readings                       int64
	Series, Units, Soaks           int64
	RunningSoaks, Rounds, Captures int64
	Excursions, Events, Verdicts   int64
	// Finals are final tests, FinalVerdicts the verdicts on them; Verdicts are on soaks.
	Finals, FinalVerdicts int64
	// Others are excursions and verdicts of other books that came in as lines.
	Others       int64
	LostReadings int64
	// Thinned readings became envelopes; they are not among Readings.
	Thinned int64
	// First and Last are the times of the oldest and the newest reading; zero in a
	// book without readings.
	First, Last time.Time
}

// Info counts what is in the book, the readings from the summaries of their blocks.
func (b *Book) Info(ctx context.Context) (Info, error) {
	const query = `SELECT
		(SELECT user_version FROM pragma_user_version), coalesce((SELECT value FROM about WHERE key = 'program'), ''),
		(SELECT page_count FROM pragma_page_count), (SELECT page_size FROM pragma_page_size),
		(SELECT page_size FROM pragma_page_size) * (SELECT freelist_count FROM pragma_freelist_count),
		(SELECT coalesce(sum(count), 0) FROM block), (SELECT count(*) FROM series), (SELECT count(*) FROM unit),
		(SELECT count(*) FROM soak), (SELECT count(*) FROM soak WHERE state = 'running'),
		(SELECT count(*) FROM round), (SELECT count(*) FROM capture), (SELECT count(*) FROM excursion),
		(SELECT count(*) FROM event), (SELECT count(*) FROM verdict),
		(SELECT count(*) FROM final_test), (SELECT count(*) FROM final_verdict), (SELECT count(*) FROM other_line), (SELECT coalesce(sum(count), 0) FROM loss), (SELECT coalesce(sum(count), 0) FROM thinned),
		(SELECT min(first_us) FROM block),
		(SELECT max(last_us) FROM block)`
	i := Info{Path: b.path, FileBytes: fileSize(b.path), LogBytes: fileSize(b.path + "-wal")}
	var first, last sql.NullInt64
	err := b.reading.QueryRowContext(ctx, query).Scan(&i.Version, &i.Program, &i.Pages, &i.PageBytes, &i.FreeBytes,
		&i.Readings, &i.Series, &i.Units, &i.Soaks, &i.RunningSoaks, &i.Rounds, &i.Captures, &i.Excursions,
		&i.Events, &i.Verdicts, &i.Finals, &i.FinalVerdicts, &i.Others, &i.LostReadings, &i.Thinned, &first, &last)
	if err != nil {
		return Info{}, b.fail("count", err)
	}
	tail, err := b.tailSummary(ctx)
	if err != nil {
		return Info{}, b.fail("count", err)
	}
	i.Readings += tail.count
	if tail.count > 0 {
		first.Int64, last.Int64 = min(orElse(first, tail.first), tail.first), max(orElse(last, tail.last), tail.last)
		first.Valid, last.Valid = true, true
	}
	i.First, i.Last = fromNull(first), fromNull(last)
	return i, nil
}

func orElse(v sql.NullInt64, otherwise int64) int64 {
	if v.Valid {
		return v.Int64
	}
	return otherwise
}

// tailSummary is of all readings that are in no block yet.
func (b *Book) tailSummary(ctx context.Context) (summary, error) {
	all, err := b.series(ctx, Filter{})
	if err != nil {
		return summary{}, err
	}
	shot, err := b.snapshot(ctx, all, everything)
	var total summary
	for _, figures := range shot.tails {
		if len(figures) > 0 {
			total.add(summarize(figures))
		}
	}
	return total, err
}

// Room is how many bytes of the file one kind of content takes.
type Room struct {
	Content string
	Bytes   int64
}

// contents are the tables that are worth a name of their own in Rooms.
var contents = map[string]string{
	"block_data": "reading blocks", "block": "summaries of blocks", "block_late": "summaries of blocks", "overview": "summaries of blocks", "tail": "latest readings", "thinned": "envelopes of thinned soaks",
	"capture": "captures", "capture_by_soak": "captures", "capture_by_round": "captures",
	"sheet": "sheets", "verdict": "verdicts", "verdict_by_soak": "verdicts", "event": "events", "event_by_time": "events",
}

// pointerMap is how many bytes the database's own pointer map takes, which is no
// table's: with auto_vacuum page 2, and each page after as many as one maps (SQLite
// database file format, 1.8).
func (b *Book) pointerMap(ctx context.Context) (int64, error) {
	var pages, pageBytes, kind int64
	err := b.reading.QueryRowContext(ctx, `SELECT (SELECT page_count FROM pragma_page_count), (SELECT page_size FROM pragma_page_size),
		(SELECT auto_vacuum FROM pragma_auto_vacuum)`).Scan(&pages, &pageBytes, &kind)
	if err != nil || kind == 0 || pages < 2 {
		return 0, err
	}
	return ((pages-2)/(pageBytes/5+1) + 1) * pageBytes, nil
}

// Rooms says where the bytes of the file are, the largest part first. It reads
// every page.
func (b *Book) Rooms(ctx context.Context) ([]Room, error) {
	const query = `SELECT name, pgsize FROM dbstat WHERE aggregate = TRUE`
	bytes := make(map[string]int64)
	_, err := collect(ctx, b, "measure the book", query, nil, func(rows *sql.Rows) (none struct{}, err error) {
		var name string
		var size int64
		err = rows.Scan(&name, &size)
		content, ok := contents[name]
		if !ok {
			content = "everything else"
		}
		bytes[content] += size
		return none, err
	})
	if err != nil {
		return nil, err
	}
	mapped, err := b.pointerMap(ctx)
	bytes["everything else"] += mapped
	var rooms []Room
	for content, size := range bytes {
		rooms = append(rooms, Room{content, size})
	}
	slices.SortFunc(rooms, func(a, b Room) int {
		return cmp.Or(cmp.Compare(b.Bytes, a.Bytes), cmp.Compare(a.Content, b.Content))
	})
	return rooms, err
}
