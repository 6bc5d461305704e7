package main

import (
	"fmt"
	"math"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"soakline/checks/parts"
)

func partsCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "parts",
		Short: "Bench arithmetic: what a part value will do before it is fitted",
		Long: `Bench arithmetic with values as IEC 60062 writes them (4k7, 1n5, 820p, R47) or as
plain numbers in SI units. Preferred values are those of IEC 60063.`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(partsFilterCommand(), partsCouplingCommand(), partsFollowerCommand(), partsDividerCommand(),
		partsTrimCommand(), partsMixCommand(), partsReservoirCommand())
	return cmd
}

// result is what a calculation gives: a table, and JSON as it is.
type result interface{ Rows() []parts.Row }

// show prints results as a table or as JSON; several results are set side by side
// one after another.
func show[R result](cmd *cobra.Command, asJSON bool, results []R) error {
	if asJSON {
		if len(results) == 1 {
			return printJSON(cmd.OutOrStdout(), results[0])
		}
		return printJSON(cmd.OutOrStdout(), results)
	}
	table := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 3, ' ', 0)
	for i, r := range results {
		if i > 0 {
			fmt.Fprintln(table, "\t")
		}
		for _, row := range r.Rows() {
			fmt.Fprintf(table, "%s\t%s\n", row.Label, row.Figure())
		}
	}
	return table.Flush()
}

// calculated is a network that can be calculated.
type calculated[R result] interface{ Calculate() (R, error) }

// calculate shows the results of networks; what cannot be calculated with is the
// user's to mend.
func calculate[R result, N calculated[R]](cmd *cobra.Command, asJSON bool, networks ...N) error {
	var results []R
	for _, network := range networks {
		r, err := network.Calculate()
		if err != nil {
			return wrongUsage(err)
		}
		results = append(results, r)
	}
	return show(cmd, asJSON, results)
}

// quantity gives a command a flag for a quantity.
func quantity(cmd *cobra.Command, into *float64, unit parts.Unit, name, help string) {
	cmd.Flags().Var(quantityFlag{into, unit}, name, help)
}

func partsFilterCommand() *cobra.Command {
	base := parts.ShuntCapacitor{LoadOhm: math.Inf(1)}
	target := parts.ShuntTarget{Series: parts.E12}
	var capacitances []float64
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "filter --source-ohm R (--capacitance-f C[,C…] | --corner-hz F | --attenuation-db A --at-hz F)",
		Short: "A capacitor to ground between a source and a load: corner, colour subcarriers, rise time",
		Example: `  soakline parts filter --source-ohm 75 --load-ohm 75 --capacitance-f 220p,330p,470p
  soakline parts filter --source-ohm 75 --load-ohm 75 --corner-hz 6M`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if len(capacitances) == 0 {
				target.SourceOhm, target.LoadOhm = base.SourceOhm, base.LoadOhm
				if target.AttenuationDB != 0 && len(base.AtHz) == 1 {
					target.AtHz = base.AtHz[0]
				}
				choice, err := target.Choose()
				if err != nil {
					return wrongUsage(err)
				}
				return show(cmd, asJSON, []parts.ShuntChoice{choice})
			}
			var networks []parts.ShuntCapacitor
			for _, c := range capacitances {
				network := base
				network.CapacitanceF = c
				networks = append(networks, network)
			}
			return calculate[parts.ShuntResult](cmd, asJSON, networks...)
		},
	}
	quantity(cmd, &base.SourceOhm, parts.Ohm, "source-ohm", "resistance that drives the node")
	quantity(cmd, &base.LoadOhm, parts.Ohm, "load-ohm", "resistance that hangs on it (default: none)")
	cmd.Flags().Var(quantitiesFlag{&capacitances, parts.Farad}, "capacitance-f", "capacitors to try")
	cmd.Flags().Var(quantitiesFlag{&base.AtHz, parts.Hertz}, "at-hz", "frequencies besides the colour subcarriers")
	quantity(cmd, &base.EdgeRiseS, parts.Second, "edge-s", "10-90 % rise time of the edge that comes in")
	quantity(cmd, &target.CornerHz, parts.Hertz, "corner-hz", "find the capacitor for this corner")
	cmd.Flags().Float64Var(&target.AttenuationDB, "attenuation-db", 0, "find the capacitor for this attenuation at --at-hz")
	cmd.Flags().Var(seriesFlag{&target.Series}, "series", "preferred values to choose from")
	mustRequire(cmd, "source-ohm")
	cmd.MarkFlagsOneRequired("capacitance-f", "corner-hz", "attenuation-db")
	cmd.MarkFlagsMutuallyExclusive("capacitance-f", "corner-hz", "attenuation-db")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func partsCouplingCommand() *cobra.Command {
	var network parts.SeriesCapacitor
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "coupling --source-ohm R --load-ohm R --capacitance-f C",
		Short:   "A coupling capacitor in series: corner and droop of a flat level",
		Example: "  soakline parts coupling --source-ohm 75 --load-ohm 75 --capacitance-f 470u --flat-s 16m",
		Args:    noArguments,
		RunE:    func(cmd *cobra.Command, _ []string) error { return calculate[parts.SeriesResult](cmd, asJSON, network) },
	}
	quantity(cmd, &network.SourceOhm, parts.Ohm, "source-ohm", "resistance of the source")
	quantity(cmd, &network.LoadOhm, parts.Ohm, "load-ohm", "resistance of the load")
	quantity(cmd, &network.CapacitanceF, parts.Farad, "capacitance-f", "the capacitor")
	quantity(cmd, &network.FlatS, parts.Second, "flat-s", "how long a flat level lasts")
	mustRequire(cmd, "source-ohm", "load-ohm", "capacitance-f")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func partsFollowerCommand() *cobra.Command {
	f := parts.Follower{BaseEmitterV: 0.65, SeriesOhm: 75, LoadOhm: 75, MeanShare: 0.5}
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "follower --supply-v V --input-offset-v V --input-pp-v V --emitter-ohm R",
		Short:   "An emitter follower: level and offset at the load, current, dissipation, clipping",
		Example: "  soakline parts follower --supply-v 5 --input-offset-v 1.2 --input-pp-v 2 --emitter-ohm 330",
		Args:    noArguments,
		RunE:    func(cmd *cobra.Command, _ []string) error { return calculate[parts.FollowerResult](cmd, asJSON, f) },
	}
	quantity(cmd, &f.SupplyV, parts.Volt, "supply-v", "supply of the collector")
	quantity(cmd, &f.InputOffsetV, parts.Volt, "input-offset-v", "lowest point of the signal at the source (sync tip)")
	quantity(cmd, &f.InputPeakToPeakV, parts.Volt, "input-pp-v", "how far it goes up from there")
	quantity(cmd, &f.BaseEmitterV, parts.Volt, "vbe-v", "base to emitter")
	quantity(cmd, &f.BaseEmitterAtA, parts.Ampere, "vbe-at-a", "emitter current at which that holds (default: any)")
	cmd.Flags().Float64Var(&f.CurrentGain, "beta", 0, "current gain (default: no base current)")
	quantity(cmd, &f.SourceOhm, parts.Ohm, "source-ohm", "resistance that drives the base")
	quantity(cmd, &f.EmitterOhm, parts.Ohm, "emitter-ohm", "emitter resistor")
	quantity(cmd, &f.SeriesOhm, parts.Ohm, "series-ohm", "resistor from the emitter to the output")
	quantity(cmd, &f.LoadOhm, parts.Ohm, "load-ohm", "load at the output")
	cmd.Flags().BoolVar(&f.ACCoupled, "ac-coupled", false, "a large capacitor stands before the load")
	cmd.Flags().Float64Var(&f.MeanShare, "mean-share", f.MeanShare, "where the signal's mean lies between its ends, 0 to 1")
	mustRequire(cmd, "supply-v", "input-offset-v", "input-pp-v", "emitter-ohm")
	addJSONFlag(cmd, &asJSON)
	return cmd
}
