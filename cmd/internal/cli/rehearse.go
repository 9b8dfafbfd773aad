package cli

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
	"mealtrial/protocol/rehearsal"
)

type rehearseOptions struct {
	truth  string
	tester rehearsal.Truth
	times  int
	seed   uint64
	dir    string
	json   bool
}

func newRehearse(s Streams) *cobra.Command {
	o := rehearseOptions{tester: rehearsal.Usual}
	cmd := &cobra.Command{
		Use:     "rehearse [study]",
		GroupID: groupStart,
		Short:   "Run the whole study on simulated readings with a truth that you set",
		Long: `Simulate the tester, the sensors and the tests of the study's schedule, analyse
as the study declares, and count how often each verdict comes out and whether
the intervals hold the truth. It is the cheapest way to find that a plan is too
small. With --dir one simulated study is written as a folder to look at.

The study's own files are only read; without a schedule, one is drawn for the
rehearsal and not written.`,
		Example: `  mealtrial rehearse noodles --truth wheat=50,lupin=30,konjac-old=15,konjac-new=12,edamame=25 --sd 8
  mealtrial rehearse noodles --truth wheat=50,lupin=50,konjac-old=50,konjac-new=50,edamame=50 --times 1000 --lost 0.1
  mealtrial rehearse noodles --truth wheat=50,lupin=30,konjac-old=15,konjac-new=12,edamame=25 --dir scratch`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error { return runRehearse(s, folder(args), o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.truth, "truth", "", "true `peaks` above the baseline in mg/dL by food, such as wheat=50,lupin=30")
	flags.Float64Var(&o.tester.SD, "sd", o.tester.SD, "within-person SD of the peak from test to test, in mg/dL")
	flags.Float64Var(&o.tester.Trend, "trend", 0, "what every week adds to the peaks, in mg/dL")
	flags.Float64Var(&o.tester.SensorGainSD, "sensor-gain", o.tester.SensorGainSD, "SD of the sensors' gain, as a share")
	flags.Float64Var(&o.tester.SensorZeroSD, "sensor-shift", o.tester.SensorZeroSD, "SD of the sensors' offset, in mg/dL")
	flags.Float64Var(&o.tester.NoiseSD, "noise", o.tester.NoiseSD, "SD of single readings, in mg/dL")
	flags.Float64Var(&o.tester.Lost, "lost", 0, "share of tests that are lost")
	flags.IntVar(&o.times, "times", 200, "number of studies")
	flags.Uint64Var(&o.seed, "seed", 1, "seed of the first simulated study")
	flags.StringVar(&o.dir, "dir", "", "write one simulated study into this new `folder` instead")
	flags.BoolVar(&o.json, "json", false, "print one JSON object")
	return cmd
}

func runRehearse(s Streams, dir string, o rehearseOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	f, err := protocol.Load(dir)
	if err != nil {
		return err
	}
	if o.tester.Rise, err = readTruth(o.truth, f.Study); err != nil {
		return err
	}
	schedule := f.Schedule
	if f.Masked() { // a rehearsal has an order of its own and tells nothing
		if f.Study, err = protocol.LoadStudy(dir); err != nil {
			return err
		}
		schedule = nil
	}
	if schedule == nil {
		if schedule, err = drawSchedule(s, f.Study, 0); err != nil {
			return err
		}
		say(s, "a schedule was drawn for the rehearsal and not written")
	}
	if o.dir != "" {
		return rehearseInto(s, dir, f.Study, schedule, o)
	}
	watch, end := s.watch("rehearsing")
	r, err := rehearsal.Rehearse(f.Study, schedule, o.tester, o.times, o.seed, watch)
	end()
	if err != nil {
		return err
	}
	if o.json {
		return writeJSON(s.Out, r)
	}
	return view.Rehearsal(s.Out, r)
}

func (o rehearseOptions) check() error {
	t := o.tester
	for _, c := range []struct {
		flag string
		ok   bool
		want string
	}{
		{"--sd", t.SD > 0 && t.SD < 1e4, "a number above zero"},
		{"--trend", t.Trend > -1e4 && t.Trend < 1e4, "a number"},
		{"--sensor-gain", t.SensorGainSD >= 0 && t.SensorGainSD < 1, "a share from 0 to below 1"},
		{"--sensor-shift", t.SensorZeroSD >= 0 && t.SensorZeroSD < 1e4, "a number of at least 0"},
		{"--noise", t.NoiseSD >= 0 && t.NoiseSD < 1e4, "a number of at least 0"},
		{"--lost", t.Lost >= 0 && t.Lost < 1, "a share from 0 to below 1"},
		{"--times", o.times >= 1 && o.times <= 100000, "a whole number from 1 to 100000"},
		{"--seed", o.seed >= 1 && o.seed <= protocol.LargestSeed-100000, "a whole number of at least 1"},
	} {
		if !c.ok {
			return usagef("%s is out of range, expected %s", c.flag, c.want)
		}
	}
	return nil
}

// readTruth reads "wheat=50,lupin=30"; the blank needs no number.
func readTruth(text string, study *protocol.Study) (map[string]float64, error) {
	rises := map[string]float64{}
	for _, part := range strings.Split(text, ",") {
		id, number, ok := strings.Cut(strings.TrimSpace(part), "=")
		x, err := strconv.ParseFloat(number, 64)
		if !ok || err != nil || !(x >= 0 && x < 1e4) {
			return nil, usagef("--truth: found %q, expected a food and the peak of its curve, such as wheat=50", part)
		}
		if study.Food(id) < 0 {
			return nil, usagef("--truth: found the food %q, which the study does not have", id)
		}
		rises[id] = x
	}
	for _, f := range study.Foods {
		if _, ok := rises[f.ID]; !ok && f.Role != protocol.RoleBlank {
			return nil, usagef("--truth: found nothing for %s, expected a peak for every food: %s", f.ID, strings.Join(slices.Sorted(maps.Keys(rises)), ", ")+" and "+f.ID)
		}
	}
	return rises, nil
}

// rehearseInto writes one simulated study as a folder.
func rehearseInto(s Streams, from string, study *protocol.Study, schedule *protocol.Schedule, o rehearseOptions) error {
	if err := protocol.EmptyFolder(o.dir); err != nil {
		return err
	}
	session := rehearsal.Simulate(study, schedule, o.tester, nil, o.seed)
	if err := protocol.WriteStudy(o.dir, from, schedule, session.Entries, session.Files); err != nil {
		return err
	}
	say(s, "wrote a simulated study into %s; try: mealtrial analyse %s", o.dir, o.dir)
	return nil
}
