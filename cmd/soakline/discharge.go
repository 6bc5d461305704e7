package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"strings"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/checks/reservoir"
	"soakline/config"
	"soakline/device"
	"soakline/logger/page"
)

func dischargeCommand() *cobra.Command {
	var flags benchFlags
	var unit, point, place string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "discharge --unit ASSET-NUMBER --test-point NAME",
		Short: "Watch a capacitor's voltage down, and whether it comes back",
		Long: `Watch the voltage at a capacitor until it has stayed below what the test sheet asks
for, for as long as the sheet asks. A reading that is missing or old is not known.
Nothing that is shown says that a part may be touched: measure again yourself.
Exit code 0 if the voltage was watched below for long enough, 3 if not.`,
		Example: "  soakline discharge --unit B8-0147 --test-point reservoir",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.loadAt(cmd, place)
			if err != nil {
				return err
			}
			d, err := findDaemon(cmd.Context(), bench)
			if err != nil {
				return err
			}
			s := &dischargeScreen{w: cmd.OutOrStdout(), terminal: onTerminal(cmd.OutOrStdout()), json: asJSON, ink: "#"}
			if s.terminal && showsUnicode() {
				s.ink = "█"
			}
			s.caution()
			if d != nil {
				err = s.watchThere(cmd.Context(), d, unit, place, point)
			} else {
				err = s.watchHere(cmd, bench, unit, place, point)
			}
			return s.outcome(err)
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "asset number")
	cmd.Flags().StringVar(&point, "test-point", "reservoir", "the capacitor's test point")
	cmd.Flags().StringVar(&place, "place", "", "where on the bench the unit is (default: where it soaks, or the first free place)")
	mustRequire(cmd, "unit")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

// dischargeScreen shows a discharge in large figures on a terminal, elsewhere in a
// line at each change and now and then.
type dischargeScreen struct {
	w        io.Writer
	terminal bool
	json     bool
	ink      string
	drawn    int
	shown    int // outlooks since the last line
	found    int // findings of the last line
	phase    reservoir.Phase
	watched  bool
}

// linesEvery is how many outlooks, four a second, go by between two lines where
// there is no terminal.
const linesEvery = 8

// caution says what a person must have read before.
func (s *dischargeScreen) caution() {
	if s.json {
		return
	}
	for i, text := range checks.StoredChargeCautions() {
		if i == 0 {
			fmt.Fprintln(s.w, "Stored charge.")
		}
		fmt.Fprint(s.w, paragraph("  ", text))
	}
	fmt.Fprintln(s.w)
}

// show takes an outlook; it is false when the watching is done.
func (s *dischargeScreen) show(view page.DischargeView) (bool, error) {
	s.watched = view.Watched
	if view.Trouble != "" {
		return false, errors.New(view.Trouble)
	}
	switch {
	case s.json:
		if err := json.NewEncoder(s.w).Encode(view); err != nil {
			return false, err
		}
	case s.terminal:
		s.draw(view)
	default:
		s.line(view)
	}
	return !view.Watched, nil
}

// draw draws the voltage large, over what was drawn before.
func (s *dischargeScreen) draw(view page.DischargeView) {
	if s.drawn > 0 {
		fmt.Fprintf(s.w, "\x1b[%dA\x1b[J", s.drawn)
	}
	figure := checks.NotKnown
	if view.Volts != nil {
		figure = fmt.Sprintf("%.2f V", *view.Volts)
	}
	said := besideFall(view)
	fmt.Fprintf(s.w, "%s\n%s   %s\n%s", bigFigure(figure, s.ink), view.TestPoint, view.Text, said)
	s.drawn = bigRows + 2 + strings.Count(said, "\n")
}

// besideFall is what the fall says of capacitor and bleeder, in lines.
func besideFall(view page.DischargeView) string {
	text := ""
	if view.CapacitanceF != nil && view.CapacitanceU != nil {
		text += paragraph("   ", "capacitance "+checks.Figure(*view.CapacitanceF, *view.CapacitanceU, device.Farad))
	}
	for _, f := range view.Findings {
		text += paragraph("   ", f.Text+" "+f.Advice)
	}
	return text
}

func (s *dischargeScreen) line(view page.DischargeView) {
	s.shown++
	changed := view.Phase != s.phase || len(view.Findings) != s.found
	if !changed && s.shown < linesEvery && !view.Watched {
		return
	}
	s.phase, s.found, s.shown = view.Phase, len(view.Findings), 0
	fmt.Fprintf(s.w, "%s   %s\n", view.TestPoint, checks.ASCII(view.Text))
	if said := checks.ASCII(besideFall(view)); said != "" && (changed || view.Watched) {
		fmt.Fprint(s.w, said)
	}
}

// outcome turns the end of the watching into the exit code.
func (s *dischargeScreen) outcome(err error) error {
	if err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	if !s.watched {
		if !s.json {
			fmt.Fprintln(s.w, "\nLeft before it had stayed below for long enough: not known. What was read is in the book.")
		}
		return &exitError{code: exitUndecided}
	}
	return nil
}

// watchHere runs the bench in this process for as long as it is watched.
func (s *dischargeScreen) watchHere(cmd *cobra.Command, bench config.Bench, unit, place, point string) error {
	log := slog.New(slog.DiscardHandler) // the screen says what matters; the events are in the book
	return serve(cmd.Context(), bench, log, func(ctx context.Context, r *running) error {
		var broken error
		name := checks.TestPointName(point)
		err := r.WatchDischarge(ctx, checks.UnitID(unit), place, name, func(o reservoir.Outlook) bool {
			var more bool
			more, broken = s.show(page.ViewDischarge(name, o))
			return more && broken == nil
		})
		return errors.Join(err, broken)
	})
}

// watchThere has the daemon watch and shows what it says.
func (s *dischargeScreen) watchThere(ctx context.Context, d *daemon, unit, place, point string) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	body, err := json.Marshal(page.PointRequest{Place: place})
	if err != nil {
		return err
	}
	response, err := d.stream(ctx, unitPath(unit, "discharge", point), body)
	if err != nil {
		return err
	}
	defer response.Body.Close()
	lines := bufio.NewScanner(response.Body)
	for lines.Scan() {
		var view page.DischargeView
		if err := json.Unmarshal(lines.Bytes(), &view); err != nil {
			return fmt.Errorf("the daemon's answer: %w", err)
		}
		if more, err := s.show(view); err != nil || !more {
			return err
		}
	}
	if err := lines.Err(); err != nil && ctx.Err() == nil {
		return fmt.Errorf("the daemon has gone; the voltage is not known: %w", err)
	}
	return ctx.Err()
}

// stream posts a request whose answer goes on until one side ends it.
func (d *daemon) stream(ctx context.Context, path string, body []byte) (*http.Response, error) {
	request, err := d.request(ctx, http.MethodPost, path, bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	endless := *d.client
	endless.Timeout = 0
	response, err := endless.Do(request)
	if err != nil {
		return nil, fmt.Errorf("ask the daemon at %s: %w", d.address, err)
	}
	if response.StatusCode >= http.StatusBadRequest {
		defer response.Body.Close()
		return nil, refusal(response)
	}
	return response, nil
}
