package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol/demo"
)

type demoOptions struct {
	dir  string
	seed uint64
	json bool
}

func newDemo(s Streams) *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:     "demo",
		GroupID: groupStart,
		Short:   "Write and analyse a complete study of invented data",
		Long: `Write a complete study folder about an invented reviewer of low-starch noodles:
draw the schedule, simulate the sensor readings, log the tests, analyse, and
print the result. The data are invented and marked so.`,
		Example: `  mealtrial demo --dir try-it`,
		Args:    noArgs,
		RunE:    func(*cobra.Command, []string) error { return runDemo(s, o) },
	}
	cmd.Flags().StringVar(&o.dir, "dir", "mealtrial-demo", "`folder` to write the study into")
	cmd.Flags().Uint64Var(&o.seed, "seed", demo.Seed, "seed of the schedule and of the simulated readings")
	cmd.Flags().BoolVar(&o.json, "json", false, "print the analysis as JSON")
	return cmd
}

func runDemo(s Streams, o demoOptions) error {
	if err := checkSeed(o.seed); err != nil {
		return err
	}
	if err := demo.Build(o.dir, o.seed); err != nil {
		return err
	}
	say(s, "wrote an invented study into %s (seed %d)", o.dir, o.seed)
	a, err := analyse(s, o.dir)
	if err != nil {
		return err
	}
	if o.json {
		return writeJSON(s.Out, a)
	}
	if err := view.Analysis(s.Out, a); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.Out, "\nAll of this is invented. Look at the files in %[1]s, then try next:\n  mealtrial quote %[1]s\n  mealtrial responses %[1]s\n  mealtrial report %[1]s --out %[1]s.html\n", o.dir)
	return err
}
