package main

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"os"
	"slices"
	"sync"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"soakline/config"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/metrics"
	"soakline/logger/page"
	"soakline/logger/ship"
)

func serveCommand() *cobra.Command {
	var flags benchFlags
	var logJSON, verbose bool
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Run the bench: read its instruments, judge, keep, and serve page and metrics",
		Long: `Run the bench until it is told to stop (Ctrl-C, SIGTERM). Soaks that were under way
when the program last ended, even by a power cut, go on; what is missing shows in
their evidence.`,
		Example: "  soakline serve --bench bench.yaml",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			log := newLog(cmd.ErrOrStderr(), logJSON, verbose)
			return serve(cmd.Context(), bench, log, func(ctx context.Context, r *running) error {
				log.Info("bench is running", "bench", bench.Bench, "address", r.address, "book", bench.Book)
				ctx, stop := context.WithCancel(ctx)
				var small sync.WaitGroup
				small.Go(func() { staySmall(ctx, log) })
				defer small.Wait()
				defer stop()
				return supervised(ctx, r.Bench, log)
			})
		},
	}
	flags.addTo(cmd)
	cmd.Flags().String("listen", "", "address of page and metrics (default: as the bench's file says)")
	cmd.Flags().BoolVar(&logJSON, "log-json", false, "write the log as JSON")
	cmd.Flags().BoolVar(&verbose, "verbose", false, "log every change of state")
	return cmd
}

// newLog returns the log of a program that runs for long.
func newLog(w io.Writer, asJSON, verbose bool) *slog.Logger {
	options := &slog.HandlerOptions{Level: slog.LevelInfo}
	if verbose {
		options.Level = slog.LevelDebug
	}
	if asJSON {
		return slog.New(slog.NewJSONHandler(w, options))
	}
	return slog.New(slog.NewTextHandler(w, options))
}

// running is a bench that runs in this process.
type running struct {
	*logger.Bench
	address string
	shipper *ship.Shipper
	telling *telling
	// finished gives each soak that has its verdict.
	finished chan logger.FinishedSoak
}

// serve runs a bench while work is done with it. It ends when work returns, the
// bench fails or the context ends, whichever is first: ports first, then the book's
// last commit, then page and metrics. Work's context ends with the bench.
func serve(ctx context.Context, settings config.Bench, log *slog.Logger, work func(context.Context, *running) error) error {
	if err := page.CheckListen(settings.Listen, settings.Token); err != nil {
		return wrongUsage(err)
	}
	for _, path := range openToAll(append(slices.Clone(settings.SecretFiles), settings.Book)) {
		log.Warn("everybody on this machine can read what is for its owner", "file", path, "mend", "chmod o-rwx "+path)
	}
	return withBook(ctx, settings.Book, book.Options{Program: program()}, func(ctx context.Context, b *book.Book) error {
		listener, err := listen(settings, log)
		if err != nil {
			return err
		}
		takeDown, err := postNotice(settings.Book, notice{Bench: settings.Bench, Address: listener.Addr().String(), PID: os.Getpid(), TLS: settings.TLS != nil})
		if err != nil {
			return errors.Join(err, listener.Close())
		}
		leave, err := postDiscovery(settings.Discovery, settings.Bench, listener.Addr().String())
		if err != nil {
			return errors.Join(err, takeDown(), listener.Close())
		}
		r := &running{address: listener.Addr().String(), finished: make(chan logger.FinishedSoak, 64)}
		r.Bench = logger.NewBench(settings.Settings, logger.Options{Book: b, ParseSheet: config.ParseSheet,
			SheetTexts: sheetTexts(settings), Log: log, Finished: r.tell, Standby: &standby{stderr: os.Stderr}})
		if r.telling, err = newTelling(r.Bench, settings, log); err != nil {
			return errors.Join(err, leave(), takeDown(), listener.Close())
		}
		r.shipper = ship.New(b, settings.Ship, log)
		server := page.NewServer(r.Bench, metrics.NewHandler(r.Bench, metrics.Ship(settings.Bench, r.shipper)), settings.Token, log)
		server.Ships(r.shipper)
		return errors.Join(r.run(ctx, server, listener, work), leave(), takeDown())
	})
}

// run runs bench, shipping and server, each a little longer than the one before, and
// does the work.
func (r *running) run(ctx context.Context, server *page.Server, listener net.Listener, work func(context.Context, *running) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	serving, stopServing := context.WithCancel(context.WithoutCancel(ctx))
	defer stopServing()
	shipping, stopShipping := context.WithCancel(context.WithoutCancel(ctx))
	defer stopShipping()
	var group errgroup.Group
	group.Go(func() error { return server.Run(serving, listener) })
	group.Go(func() error { return r.telling.run(shipping) })
	group.Go(func() error {
		defer stopServing()
		err := r.shipper.Run(shipping)
		<-shipping.Done() // with nowhere to ship to it ends at once, and the page stays
		return err
	})
	group.Go(func() error {
		defer stopShipping() // after the book's last commit
		defer stop()
		return r.Run(ctx)
	})
	group.Go(func() error {
		defer stop()
		return work(ctx, r)
	})
	return group.Wait()
}

// tell passes a verdict on to whoever waits for one; with nobody waiting it is in
// the book all the same.
func (r *running) tell(f logger.FinishedSoak) {
	select {
	case r.finished <- f:
	default:
	}
}

// sheetTexts are the files of the bench's sheets by their hash.
func sheetTexts(bench config.Bench) map[string][]byte {
	texts := map[string][]byte{}
	for _, sheet := range bench.Loaded {
		texts[sheet.Hash] = sheet.Source
	}
	return texts
}
