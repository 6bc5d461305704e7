package main

import (
	"context"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"soakline/logger/book"
)

func bookInfoCommand() *cobra.Command {
	var flags benchFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "info",
		Short:   "Say what the book holds and how much room it takes",
		Example: "  soakline book info --book bench.book --json",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.readBook(cmd, func(ctx context.Context, b *book.Book) error {
				info, err := b.Info(ctx)
				if err != nil {
					return err
				}
				rooms, err := b.Rooms(ctx)
				if err != nil {
					return err
				}
				others, err := b.OtherBooks(ctx)
				if err != nil {
					return err
				}
				if asJSON {
					view := viewBookInfo(info)
					for _, room := range rooms {
						view.Rooms = append(view.Rooms, roomView{room.Content, room.Bytes})
					}
					for _, o := range others {
						view.Imported = append(view.Imported, otherBookView{o.Identity, o.Benches, o.At, o.Links})
					}
					return printJSON(cmd.OutOrStdout(), view)
				}
				return printBookInfo(cmd.OutOrStdout(), info, others, rooms)
			})
		},
	}
	flags.addTo(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// bookInfoView is what a book holds, as JSON.
type bookInfoView struct {
	Path         string     `json:"path"`
	Version      int        `json:"version"`
	FileBytes    int64      `json:"file_bytes"`
	LogBytes     int64      `json:"log_bytes"`
	FreeBytes    int64      `json:"free_bytes"`
	Readings     int64      `json:"readings"`
	LostReadings int64      `json:"lost_readings"`
	Thinned      int64      `json:"thinned_readings"`
	Series       int64      `json:"series"`
	Units        int64      `json:"units"`
	Soaks        int64      `json:"soaks"`
	RunningSoaks int64      `json:"running_soaks"`
	Rounds       int64      `json:"rounds"`
	Captures     int64      `json:"captures"`
	Excursions   int64      `json:"excursions"`
	Events       int64      `json:"events"`
	Verdicts     int64      `json:"verdicts"`
	Finals       int64      `json:"finals"`
	FinalJudged  int64      `json:"final_verdicts"`
	Others       int64      `json:"lines_of_other_books"`
	First        *time.Time `json:"first"`
	Last         *time.Time `json:"last"`
	Rooms        []roomView `json:"rooms"`
	// Imported are the books that were taken over.
	Imported []otherBookView `json:"imported"`
}

// otherBookView is a book that was taken over.
type otherBookView struct {
	Identity string    `json:"identity"`
	Benches  string    `json:"benches"`
	First    time.Time `json:"first"`
	Links    int64     `json:"links"`
}

// roomView is how many bytes one kind of content takes.
type roomView struct {
	Content string `json:"content"`
	Bytes   int64  `json:"bytes"`
}

func viewBookInfo(i book.Info) bookInfoView {
	view := bookInfoView{Path: i.Path, Version: i.Version, FileBytes: i.FileBytes, LogBytes: i.LogBytes, FreeBytes: i.FreeBytes,
		Readings: i.Readings, LostReadings: i.LostReadings, Thinned: i.Thinned, Series: i.Series, Units: i.Units, Soaks: i.Soaks,
		RunningSoaks: i.RunningSoaks, Rounds: i.Rounds, Captures: i.Captures, Excursions: i.Excursions, Events: i.Events, Verdicts: i.Verdicts,
		Finals: i.Finals, FinalJudged: i.FinalVerdicts, Others: i.Others, Imported: []otherBookView{}}
	if i.Readings > 0 {
		view.First, view.Last = &i.First, &i.Last
	}
	return view
}

func printBookInfo(w io.Writer, i book.Info, others []book.OtherBook, rooms []book.Room) error {
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "book\t%s, form %d\n", i.Path, i.Version)
	fmt.Fprintf(table, "room\t%s, of which %s free, and a log of %s\n", bytesInWords(i.FileBytes), bytesInWords(i.FreeBytes), bytesInWords(i.LogBytes))
	fmt.Fprintf(table, "readings\t%d in %d series", i.Readings, i.Series)
	if i.Readings > 0 {
		fmt.Fprintf(table, ", %s to %s", i.First.Local().Format(dayAndTime), i.Last.Local().Format(dayAndTime))
	}
	fmt.Fprintf(table, "\nlost\t%d readings\n", i.LostReadings)
	if i.Thinned > 0 {
		fmt.Fprintf(table, "thinned\t%d readings more are envelopes only\n", i.Thinned)
	}
	fmt.Fprintf(table, "units\t%d\n", i.Units)
	fmt.Fprintf(table, "soaks\t%d, %d of them running; %d verdicts, %d excursions\n", i.Soaks, i.RunningSoaks, i.Verdicts, i.Excursions)
	fmt.Fprintf(table, "final tests\t%d; %d verdicts\n", i.Finals, i.FinalVerdicts)
	if i.Others > 0 {
		fmt.Fprintf(table, "others\t%d excursions and verdicts of other books, as lines\n", i.Others)
	}
	fmt.Fprintf(table, "rounds\t%d; %d captures\n", i.Rounds, i.Captures)
	fmt.Fprintf(table, "events\t%d\n", i.Events)
	for _, o := range others {
		fmt.Fprintf(table, "from\tthe %v, first on %s; %d links of its chain; known by %.16s\n", o, o.At.Local().Format(dayAndTime), o.Links, o.Identity)
	}
	for _, room := range rooms {
		fmt.Fprintf(table, "  %s\t%s\n", room.Content, bytesInWords(room.Bytes))
	}
	return table.Flush()
}

// bytesInWords writes a size with a decimal prefix.
func bytesInWords(n int64) string {
	const kilo = 1000
	switch {
	case n >= kilo*kilo*kilo:
		return fmt.Sprintf("%.2f GB", float64(n)/(kilo*kilo*kilo))
	case n >= kilo*kilo:
		return fmt.Sprintf("%.2f MB", float64(n)/(kilo*kilo))
	case n >= kilo:
		return fmt.Sprintf("%.1f kB", float64(n)/kilo)
	default:
		return fmt.Sprintf("%d B", n)
	}
}
