package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"soakline/logger/page"
)

func roundCommand() *cobra.Command {
	var flags benchFlags
	var r roundRun
	cmd := &cobra.Command{
		Use:   "round --unit ASSET-NUMBER --label TEXT",
		Short: "Read every test point of a unit once, under a label",
		Long: `Read every test point of a unit's test sheet, each figure until it has settled, and
keep the figures with their records under a label, to be compared later. A unit on
a soak is read between the soak's own readings.

What to connect and what to beware of is shown before each test point. Where there
is a caution a person has to press Enter; with --hands-free, for units that are
wired already so that nobody reaches in, nobody is waited for. A test point that
cannot be read stays unknown, and the exit code is 4.`,
		Example: `  soakline round --unit B8-0147 --label "as received"`,
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			bench, err := flags.loadAt(cmd, r.place)
			if err != nil {
				return err
			}
			out := cmd.OutOrStdout()
			if r.asJSON {
				out = cmd.ErrOrStderr()
			}
			r.person = newPerson(cmd.InOrStdin(), out)
			return withRounds(cmd, bench, func(ctx context.Context, taker roundTaker) error {
				taken, err := r.take(ctx, taker, page.RoundRequest{Label: r.label, Place: r.place})
				if err != nil {
					return err
				}
				if r.asJSON {
					if err := printJSON(cmd.OutOrStdout(), taken); err != nil {
						return err
					}
				}
				return taken.trouble()
			})
		},
	}
	flags.addTo(cmd)
	r.addTo(cmd)
	cmd.Flags().StringVar(&r.label, "label", "", "what the round is called; new for this unit")
	addJSONFlag(cmd, &r.asJSON)
	mustRequire(cmd, "unit", "label")
	cmd.AddCommand(roundListCommand(), roundShowCommand())
	return cmd
}

// roundRun is how rounds are taken at a terminal.
type roundRun struct {
	unit, label, place string
	handsFree, asJSON  bool
	person             *person
}

// addTo gives a command the flags that rounds and trials share.
func (r *roundRun) addTo(cmd *cobra.Command) {
	cmd.Flags().StringVar(&r.unit, "unit", "", "asset number")
	cmd.Flags().StringVar(&r.place, "place", "", "place on the bench (default: where it soaks, or the first free one)")
	cmd.Flags().BoolVar(&r.handsFree, "hands-free", false, "all is wired and nobody reaches in: wait for nobody")
}

// takenRound is a round with what was said at each test point.
type takenRound struct {
	page.RoundView
	Points []pointNotes `json:"points"`
}

// pointNotes are what was said at a test point besides its figures.
type pointNotes struct {
	TestPoint string             `json:"test_point"`
	Findings  []page.FindingView `json:"findings"`
	Remarks   []string           `json:"remarks"`
	Trouble   string             `json:"trouble,omitempty"`
}

// trouble is the error of a round in which test points could not be read.
func (t takenRound) trouble() error {
	n := 0
	for _, point := range t.Points {
		if point.Trouble != "" {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return &exitError{code: exitTrouble, err: fmt.Errorf("round %q: %d of %d test points could not be read; they stay unknown", t.Label, n, len(t.Points))}
}

// take takes a round, test point by test point.
func (r *roundRun) take(ctx context.Context, taker roundTaker, request page.RoundRequest) (takenRound, error) {
	plan, err := taker.planRound(ctx, r.unit, request.Place)
	if err != nil {
		return takenRound{}, err
	}
	needed := slices.ContainsFunc(plan.Steps, func(s page.RoundStepView) bool { return s.NeedsPerson })
	if needed && !r.handsFree && !r.person.there {
		return takenRound{}, wrongUsage(fmt.Errorf("unit %s: %w: its test sheet has cautions to be read; with all wired and nobody reaching in, say --hands-free", r.unit, errNobody))
	}
	request.Place = plan.Place
	if err := taker.beginRound(ctx, r.unit, request); err != nil {
		return takenRound{}, err
	}
	out := r.person.out
	fmt.Fprintf(out, "round %q of %s (%s) at place %s, sheet %s\n", request.Label, plan.Unit, plan.Console, plan.Place, plan.Sheet)
	var taken takenRound
	for i, step := range plan.Steps {
		if err := r.prepare(ctx, step); err != nil {
			return takenRound{}, err
		}
		done := reading(out, step.TestPoint, i+1, len(plan.Steps))
		point, err := taker.readPoint(ctx, r.unit, request.Label, plan.Place, step.TestPoint)
		done()
		if err != nil {
			return takenRound{}, err
		}
		printPoint(out, point)
		taken.Points = append(taken.Points, pointNotes{TestPoint: point.TestPoint, Findings: point.Findings, Remarks: point.Remarks, Trouble: point.Trouble})
	}
	taken.RoundView, err = taker.endRound(ctx, r.unit, request.Label)
	if err == nil {
		printRoundEnd(out, taken.RoundView)
	}
	return taken, err
}

// prepare says what to connect and what to beware of, and waits where a person has
// to have read it.
func (r *roundRun) prepare(ctx context.Context, step page.RoundStepView) error {
	if step.Connect != "" {
		fmt.Fprint(r.person.out, "\n", paragraph("", "connect: "+step.Connect))
	}
	if step.Caution != "" {
		fmt.Fprint(r.person.out, paragraph("", "caution: "+step.Caution))
	}
	if !step.NeedsPerson || r.handsFree {
		return nil
	}
	return r.person.enter(ctx, "press Enter when it is connected (Ctrl-C gives the round up) ")
}

// reading shows on a terminal what is being read; the returned function takes it
// away again.
func reading(out io.Writer, point string, n, of int) (done func()) {
	if !onTerminal(out) {
		return func() {}
	}
	fmt.Fprintf(out, "reading %s (%d of %d) …", point, n, of)
	return func() { fmt.Fprint(out, "\r\x1b[K") }
}
