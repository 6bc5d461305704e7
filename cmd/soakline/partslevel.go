package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"soakline/checks/parts"
)

func partsDividerCommand() *cobra.Command {
	d := parts.Divider{LoadOhm: math.Inf(1), InputV: 1}
	target := parts.DividerTarget{TotalLowOhm: 1e3, TotalHighOhm: 100e3, Series: parts.E24, Most: 3}
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "divider (--top-ohm R --bottom-ohm R | --ratio K)",
		Short: "A divider with its load; or the preferred pair for a ratio",
		Example: `  soakline parts divider --top-ohm 4k7 --bottom-ohm 1k --input-v 5
  soakline parts divider --ratio 0.2 --total-low-ohm 5k --total-high-ohm 20k`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if target.Ratio == 0 {
				return calculate[parts.DividerResult](cmd, asJSON, d)
			}
			target.LoadOhm, target.InputV = d.LoadOhm, d.InputV
			pairs, err := target.Pairs()
			if err != nil {
				return wrongUsage(err)
			}
			return show(cmd, asJSON, pairs)
		},
	}
	quantity(cmd, &d.TopOhm, parts.Ohm, "top-ohm", "upper resistor")
	quantity(cmd, &d.BottomOhm, parts.Ohm, "bottom-ohm", "lower resistor")
	quantity(cmd, &d.LoadOhm, parts.Ohm, "load-ohm", "what hangs on the tap (default: nothing)")
	quantity(cmd, &d.InputV, parts.Volt, "input-v", "voltage at the top")
	cmd.Flags().Float64Var(&target.Ratio, "ratio", 0, "find the pair for this output over input")
	quantity(cmd, &target.TotalLowOhm, parts.Ohm, "total-low-ohm", "least sum of the pair")
	quantity(cmd, &target.TotalHighOhm, parts.Ohm, "total-high-ohm", "greatest sum of the pair")
	cmd.Flags().Var(seriesFlag{&target.Series}, "series", "preferred values to choose from")
	cmd.MarkFlagsMutuallyExclusive("ratio", "top-ohm")
	cmd.MarkFlagsMutuallyExclusive("ratio", "bottom-ohm")
	cmd.MarkFlagsOneRequired("ratio", "top-ohm")
	cmd.MarkFlagsRequiredTogether("top-ohm", "bottom-ohm")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func partsTrimCommand() *cobra.Command {
	t := parts.Trim{SourceOhm: 75, LoadOhm: 75, Series: parts.E24}
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "trim --level-v V --wanted-v V",
		Short:   "Bring a level that is too high down by resistors",
		Example: "  soakline parts trim --level-v 1.2 --wanted-v 1.0",
		Args:    noArguments,
		RunE:    func(cmd *cobra.Command, _ []string) error { return calculate[parts.TrimResult](cmd, asJSON, t) },
	}
	quantity(cmd, &t.SourceOhm, parts.Ohm, "source-ohm", "the output's own resistance")
	quantity(cmd, &t.LoadOhm, parts.Ohm, "load-ohm", "the receiver's")
	quantity(cmd, &t.LevelV, parts.Volt, "level-v", "level now, with the load on")
	quantity(cmd, &t.WantedV, parts.Volt, "wanted-v", "level wanted")
	cmd.Flags().Var(seriesFlag{&t.Series}, "series", "preferred values to choose from")
	mustRequire(cmd, "level-v", "wanted-v")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func partsMixCommand() *cobra.Command {
	x := parts.Mix{LoadOhm: math.Inf(1)}
	var inputs []string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "mix --input NAME=R --input NAME=R …",
		Short:   "Resistors into one node: how loud each source is",
		Example: "  soakline parts mix --input voice=10k --input effects=22k --load-ohm 10k",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			for _, text := range inputs {
				name, value, ok := strings.Cut(text, "=")
				if !ok {
					return wrongUsage(fmt.Errorf("--input %q: write NAME=RESISTANCE", text))
				}
				ohm, err := parts.ParseQuantity(value, parts.Ohm)
				if err != nil {
					return wrongUsage(fmt.Errorf("--input %q: %w", text, err))
				}
				x.Inputs = append(x.Inputs, parts.MixInput{Name: name, Ohm: ohm})
			}
			return calculate[parts.MixResult](cmd, asJSON, x)
		},
	}
	cmd.Flags().StringArrayVar(&inputs, "input", nil, "a source and its resistor")
	quantity(cmd, &x.LoadOhm, parts.Ohm, "load-ohm", "what hangs on the node (default: nothing)")
	quantity(cmd, &x.FeedbackOhm, parts.Ohm, "feedback-ohm", "feedback of an inverting amplifier at the node")
	mustRequire(cmd, "input")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func partsReservoirCommand() *cobra.Command {
	r := parts.Reservoir{PeakV: 12}
	target := parts.ReservoirTarget{Series: parts.E6}
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "reservoir --load-a A --mains-hz F (--capacitance-f C | --ripple-v V)",
		Short: "Ripple on a reservoir capacitor; or the capacitor for a ripple",
		Long: `Ripple on a reservoir capacitor by the rule of thumb and by the exact form, or the
capacitor for a wanted ripple. A charged reservoir burns and welds: unplugged is
not discharged.`,
		Example: `  soakline parts reservoir --load-a 0.45 --mains-hz 50 --ripple-v 0.5
  soakline parts reservoir --load-a 1 --mains-hz 60 --capacitance-f 4700u --peak-v 12`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if target.RippleV == 0 {
				return calculate[parts.ReservoirResult](cmd, asJSON, r)
			}
			target.Reservoir = r
			choice, err := target.Choose()
			if err != nil {
				return wrongUsage(err)
			}
			return show(cmd, asJSON, []parts.ReservoirChoice{choice})
		},
	}
	quantity(cmd, &r.PeakV, parts.Volt, "peak-v", "top of the rectified voltage")
	quantity(cmd, &r.LoadA, parts.Ampere, "load-a", "a load of constant current, such as a regulator")
	quantity(cmd, &r.LoadOhm, parts.Ohm, "load-ohm", "a load that is a resistance")
	quantity(cmd, &r.CapacitanceF, parts.Farad, "capacitance-f", "the capacitor")
	quantity(cmd, &target.RippleV, parts.Volt, "ripple-v", "find the capacitor for this ripple, peak to peak")
	quantity(cmd, &r.MainsHz, parts.Hertz, "mains-hz", "mains frequency")
	cmd.Flags().BoolVar(&r.HalfWave, "half-wave", false, "charged once a period instead of twice")
	cmd.Flags().Var(seriesFlag{&target.Series}, "series", "preferred values to choose from")
	mustRequire(cmd, "mains-hz")
	cmd.MarkFlagsOneRequired("load-a", "load-ohm")
	cmd.MarkFlagsOneRequired("capacitance-f", "ripple-v")
	cmd.MarkFlagsMutuallyExclusive("capacitance-f", "ripple-v")
	addJSONFlag(cmd, &asJSON)
	return cmd
}
