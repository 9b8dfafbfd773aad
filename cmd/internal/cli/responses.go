package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

func newResponses(s Streams) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "responses [study]",
		GroupID: groupDo,
		Short:   "Show what each test gave: baseline, peak rise, area, coverage",
		Long: `Take the numbers from each test's curve and show one row a test: baseline, peak
rise and when, incremental area (trapezoids above the baseline), value at two
hours, measured share of the window, and what is to be noticed.

With --json: a list of objects with date, time, food, block, baseline,
peak_rise, time_to_peak, iauc, two_hour, coverage (0 to 1), value (the endpoint),
source, excluded and flags, and where they are there quality (flags by name, with
the reason), within_floor (no larger than a day without food may give),
secondary_endpoints, outcomes and safety. Glucose in the study's unit, time in
minutes. Where glucose was at a reporting limit of the sensor, bounds says of which numbers the
true one is "at least" or "at most" what stands there, or "not known"; such a test
is left out of the means, unless quality: {at_limit: bound} in study.yaml counts
the bound for the value. sensor is the one that the numbers are from.`,
		Example: `  mealtrial responses noodles
  mealtrial responses noodles --json`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error { return runResponses(s, folder(args), asJSON) },
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print a JSON list")
	return cmd
}

func runResponses(s Streams, dir string, asJSON bool) error {
	f, err := loadAll(s, dir)
	if err != nil {
		return err
	}
	responses, problems := f.Responses()
	f.FlagFloor(responses)
	for _, p := range problems {
		warn(s, "%s", p.Error())
	}
	if f.Log.HalfLine > 0 {
		warn(s, "%s:%d: the last entry is half-written and was left out", protocol.LogFile, f.Log.HalfLine)
	}
	if asJSON {
		say(s, "%s", protocol.ShortCaution)
		return writeJSON(s.Out, responses)
	}
	if err := view.Responses(s.Out, f.Study, responses); err != nil {
		return err
	}
	return view.Caution(s.Out)
}
