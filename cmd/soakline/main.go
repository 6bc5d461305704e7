// Command soakline watches refurbished home computers and consoles on the bench:
// it reads instruments over serial, judges what they say against a test sheet,
// keeps everything and gives the verdict at the end of a soak.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"
)

// version is set by the build.
var version = "unknown"

func main() {
	os.Exit(run(os.Args[1:]))
}

// run is main without the exit, so that deferred work is done.
func run(args []string) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends the program at once
	root := rootCommand()
	root.SetArgs(args)
	return explain(os.Stderr, root.ExecuteContext(ctx))
}

// rootCommand puts the commands together.
func rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "soakline",
		Short:         "Readings from a repair bench: taken, judged, kept, and a verdict at the end of a soak",
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.SetVersionTemplate("soakline {{.Version}}\n")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return wrongUsage(err) })
	root.AddCommand(
		demoCommand(), serveCommand(), simulateCommand(),
		unitCommand(), historyCommand(), soakCommand(), judgeCommand(),
		finalCommand(), dischargeCommand(), measureCommand(), partsCommand(), portsCommand(), identifyCommand(), peekCommand(),
		roundCommand(), compareCommand(), trialCommand(), reportCommand(), lineCommand(),
		bookCommand(), shipCommand(), checkCommand(), graphingCommand(), notifyCommand(), versionCommand(),
		doctorCommand(), manualCommand(), standbyCommand(),
	)
	markTrouble(root)
	return root
}
