package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"soakline/checks"
	"soakline/checks/parts"
	"soakline/config"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
	"soakline/logger/report"
)

func trialCommand() *cobra.Command {
	var flags benchFlags
	var t trialRun
	cmd := &cobra.Command{
		Use:   "trial --unit ASSET-NUMBER --part 'R14 ohm' --candidate VALUE …",
		Short: "Try part values: a round with each of them, ranked by the test sheet's criteria",
		Long: `Try part values. For each candidate you are told to fit it and press Enter; then a
round is read. At the end the candidates are ranked by each criterion of the test
sheet (its section trial) and by all in their order: the first criterion decides,
the next one between those that it cannot tell apart. Values may be written as on
the part: 4k7, 1n5.

Switch off and unplug before a part is changed. The reservoir capacitor holds its
charge for long: measure across it before hands go in.`,
		Example: `  soakline trial --unit B8-0147 --part "R14 ohm" --candidate 68 --candidate 75 --candidate 82 --plot lines.svg`,
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.load(cmd)
			if err != nil {
				return err
			}
			if err := t.understand(); err != nil {
				return wrongUsage(err)
			}
			out := cmd.OutOrStdout()
			if t.asJSON {
				out = cmd.ErrOrStderr()
			}
			t.person = newPerson(cmd.InOrStdin(), out)
			if !t.person.there {
				return wrongUsage(fmt.Errorf("a trial: %w, to fit the candidates", errNobody))
			}
			var trouble error
			err = withRounds(cmd, bench, func(ctx context.Context, taker roundTaker) (err error) {
				trouble, err = t.run(ctx, taker)
				return err
			})
			if err != nil {
				return err
			}
			return errors.Join(t.show(cmd, bench.Book), trouble)
		},
	}
	flags.addTo(cmd)
	t.addTo(cmd)
	cmd.Flags().StringVar(&t.part, "part", "part ohm", "what is varied, and behind it the unit of its values: ohm or F")
	cmd.Flags().StringArrayVar(&t.candidates, "candidate", nil, "a value to try; give two or more")
	mustRequire(cmd, "unit", "candidate")
	cmd.AddCommand(trialShowCommand())
	return cmd
}

// trialRun is one trial at a terminal.
type trialRun struct {
	roundRun
	part, plot string
	candidates []string

	name   string // of the part, without the unit
	unitOf device.Unit
	values []float64
	id     int64
}

func (t *trialRun) addTo(cmd *cobra.Command) {
	t.roundRun.addTo(cmd)
	t.addOutput(cmd)
}

// addOutput gives a command the flags of how a trial is shown.
func (t *trialRun) addOutput(cmd *cobra.Command) {
	cmd.Flags().StringVar(&t.plot, "plot", "", "draw the candidates' video lines over each other into this file (.svg or .png)")
	addJSONFlag(cmd, &t.asJSON)
}

// understand reads part, unit and candidates.
func (t *trialRun) understand() error {
	words := strings.Fields(t.part)
	units := map[string]device.Unit{"ohm": device.Ohm, "ohms": device.Ohm, "F": device.Farad, "farad": device.Farad}
	if len(words) > 0 {
		t.unitOf = units[words[len(words)-1]]
	}
	if len(words) < 2 || t.unitOf == (device.Unit{}) {
		return fmt.Errorf("--part %q: name the part and behind it the unit of its values, as in \"R14 ohm\" or \"C7 F\"", t.part)
	}
	t.name = strings.Join(words[:len(words)-1], " ")
	kind := map[device.Unit]parts.Unit{device.Ohm: parts.Ohm, device.Farad: parts.Farad}[t.unitOf]
	seen := map[float64]bool{}
	for _, text := range t.candidates {
		value, err := parts.ParseQuantity(text, kind)
		switch {
		case err != nil:
			return fmt.Errorf("--candidate: %w", err)
		case value < 0:
			return fmt.Errorf("--candidate %s: a part's value is not below 0", text)
		case seen[value]:
			return fmt.Errorf("--candidate %s is there twice", text)
		}
		seen[value] = true
		t.values = append(t.values, value)
	}
	if len(t.values) < 2 {
		return errors.New("a trial needs two candidates or more")
	}
	return nil
}

// run takes a round with each candidate. Test points that could not be read are
// the first error: the ranking is of what was.
func (t *trialRun) run(ctx context.Context, taker roundTaker) (trouble, err error) {
	trial, err := taker.beginTrial(ctx, t.unit, page.TrialRequest{Part: t.name, CandidateUnit: t.unitOf.Plural})
	if err != nil {
		return nil, err
	}
	t.id = trial.Trial
	out := t.person.out
	for i, value := range t.values {
		text := logger.CandidateText(value, t.unitOf.Plural)
		fmt.Fprintf(out, "\ncandidate %d of %d\n", i+1, len(t.values))
		fmt.Fprint(out, paragraph("", "caution: switch off and unplug first. Unplugged is not discharged: measure across the reservoir capacitor before hands go in. Mains-side work is for those trained or licensed for it where you are."))
		if err := t.person.enter(ctx, fmt.Sprintf("fit %s as %s, switch on, press Enter ", text, t.name)); err != nil {
			return nil, err
		}
		request := page.RoundRequest{Label: logger.TrialLabel(book.TrialID(t.id), text), Place: t.place, Trial: t.id, Candidate: &value}
		taken, err := t.take(ctx, taker, request)
		if err != nil {
			return nil, err
		}
		if trouble == nil {
			trouble = taken.trouble()
		}
	}
	_, err = taker.endTrial(ctx, t.unit, t.id, nil)
	return trouble, err
}

// show shows the trial as the book holds it, and draws its lines.
func (t *trialRun) show(cmd *cobra.Command, bookPath string) error {
	options := book.Options{ReadOnly: true, Program: program()}
	return withBook(cmd.Context(), bookPath, options, func(ctx context.Context, b *book.Book) error {
		result, err := logger.TrialFromBook(ctx, b, checks.UnitID(t.unit), book.TrialID(t.id), config.ParseSheet)
		if err != nil {
			return err
		}
		if err := t.draw(ctx, b, result); err != nil {
			return err
		}
		if t.asJSON {
			return printJSON(cmd.OutOrStdout(), page.ViewTrial(result))
		}
		printTrial(cmd.OutOrStdout(), page.ViewTrial(result))
		return nil
	})
}

// draw lays the candidates' video lines over each other.
func (t *trialRun) draw(ctx context.Context, b *book.Book, result logger.TrialResult) error {
	if t.plot == "" {
		return nil
	}
	lines, err := logger.VideoLines(ctx, b, result.Sheet, result.Rounds)
	if err != nil {
		return err
	}
	if len(lines) == 0 {
		return fmt.Errorf("--plot %s: %w", t.plot, errNothingFound)
	}
	drawing := report.LinePlot{Title: fmt.Sprintf("trial %d of %s: %s", result.Trial.ID, result.Trial.Unit, result.Trial.Part)}
	for _, line := range lines {
		drawing.Traces = append(drawing.Traces, report.Trace{Label: logger.CandidateText(line.Round.Candidate, result.Trial.CandidateUnit),
			StartSeconds: line.StartSeconds, IntervalSeconds: line.IntervalSeconds, Volts: line.Volts})
	}
	return writePlot(t.plot, drawing.SVG, drawing.PNG)
}

// printTrial writes each criterion's ranking and that of the sheet's order.
func printTrial(out io.Writer, trial page.TrialView) {
	fit := fitting(out)
	fmt.Fprintf(out, "\ntrial %d of %s: %s\n", trial.Trial, trial.Unit, trial.Part)
	for i, criterion := range trial.Criteria {
		line := criterion.Text + ": " + groupsText(criterion.Groups, func(k int) string {
			return fmt.Sprintf("%s (%s)", trial.Candidates[k].Text, criterion.Figures[k].Text)
		})
		if len(criterion.Groups) == 0 {
			line = criterion.Text + ": measured with none of them"
		}
		fmt.Fprintf(out, "%d. %s", i+1, fit(strings.TrimLeft(paragraph("   ", line), " ")))
		var missing, beyond []string
		for _, k := range criterion.NotMeasured {
			missing = append(missing, trial.Candidates[k].Text)
		}
		for k, keeps := range criterion.Keeps {
			if !keeps && criterion.Figures[k].Value != nil {
				beyond = append(beyond, trial.Candidates[k].Text)
			}
		}
		if len(beyond) > 0 {
			fmt.Fprint(out, fit(paragraph("   ", "beyond the bound: "+strings.Join(beyond, ", "))))
		}
		if len(missing) > 0 && len(criterion.Groups) > 0 {
			fmt.Fprint(out, fit(paragraph("   ", "not measured: "+strings.Join(missing, ", "))))
		}
	}
	fmt.Fprint(out, fit(paragraph("", "by this sheet's order: "+groupsText(trial.Order, func(k int) string { return trial.Candidates[k].Text }))))
}

// groupsText names groups from the best down; those of one group cannot be told
// apart.
func groupsText(groups [][]int, name func(int) string) string {
	var texts []string
	for _, group := range groups {
		var names []string
		for _, k := range group {
			names = append(names, name(k))
		}
		if last := len(names) - 1; last > 0 {
			texts = append(texts, strings.Join(names[:last], ", ")+" and "+names[last]+" cannot be told apart")
		} else {
			texts = append(texts, names...)
		}
	}
	return strings.Join(texts, "; then ")
}

func trialShowCommand() *cobra.Command {
	var flags benchFlags
	var t trialRun
	cmd := &cobra.Command{
		Use:     "show --unit ASSET-NUMBER TRIAL",
		Short:   "Show the ranking of a trial again from the book",
		Example: "  soakline trial show --unit B8-0147 3 --plot lines.svg",
		Args:    oneArgument,
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := strconv.ParseInt(args[0], 10, 64)
			if err != nil || id < 1 {
				return wrongUsage(fmt.Errorf("%q is no number of a trial", args[0]))
			}
			t.id = id
			path, err := flags.bookPath(cmd)
			if err != nil {
				return err
			}
			return t.show(cmd, path)
		},
	}
	flags.addTo(cmd)
	cmd.Flags().StringVar(&t.unit, "unit", "", "asset number")
	t.addOutput(cmd)
	mustRequire(cmd, "unit")
	return cmd
}
