package cli

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"mealtrial/protocol"
)

type recordOptions struct {
	date, time, food, ate, exclude, note, correct string
	block                                         int
	value                                         float64
	deviations, outcomes, happened                []string
	measured, lookedAt                            string
}

func newRecord(s Streams) *cobra.Command {
	var o recordOptions
	cmd := &cobra.Command{
		Use:     "record [study]",
		GroupID: groupDo,
		Short:   "Add one test to the log",
		Long: `Without flags, on a terminal, ask for the test with what is due today filled in, and
show a summary before saving. With flags, append one test to log.yaml: when the first bite was, what was eaten, what did
not go as planned, and the number read by hand where there are no readings. The
same can be typed into the file. --outcome adds a secondary outcome that the
study file declares: of a test that is in the log already it makes a late entry,
and with --measured alone that of the next morning goes to the test of the day
before. --looked-at says what was done about a safety line of a test; until
then further tests of that food are held back. Nothing in the log is ever changed: with
--correct the entry corrects an earlier one, and says only what is different.`,
		Example: `  mealtrial record noodles
  mealtrial record noodles --date 2027-01-11 --time 07:32 --food wheat --ate "180 g cooked"
  mealtrial record noodles --date 2027-01-13 --food lupin --block 1 --value 22
  mealtrial record noodles --measured 2027-01-14 --outcome stiffness=3 --outcome ketones=0.4
  mealtrial record noodles --date 2027-01-13 --looked-at "talked to my doctor"
  mealtrial record noodles --date 2027-01-13 --correct --exclude "ran for the bus"
  mealtrial record noodles --date 2027-01-13 --time 07:40 --correct="2027-01-13 07:04"`,
		Args: studyArg,
		RunE: func(cmd *cobra.Command, args []string) error {
			if asks(s, cmd) {
				return runAskedRecord(s, folder(args))
			}
			return runRecord(s, cmd, folder(args), o)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&o.date, "date", "", "date of the test, `YYYY-MM-DD`")
	flags.StringVar(&o.time, "time", "", "time of the first bite, `HH:MM`")
	flags.StringVar(&o.food, "food", "", "`id` of the food (default: the one the schedule has on that date)")
	flags.IntVar(&o.block, "block", 0, "`number` of the block (default: that of the schedule)")
	flags.StringVar(&o.ate, "ate", "", "what was really eaten, and how much")
	flags.Float64Var(&o.value, "value", 0, "`number` read by hand, in the endpoint's unit")
	flags.StringArrayVar(&o.deviations, "deviation", nil, "what did not go as the protocol says (may be repeated)")
	flags.StringVar(&o.exclude, "exclude", "", "`reason` to leave the test out; \"\" in a correction counts it again")
	flags.StringVar(&o.note, "note", "", "anything else")
	flags.StringArrayVar(&o.outcomes, "outcome", nil, "`id=value` of an outcome, such as stiffness=3 or buy_again=yes (may be repeated)")
	flags.StringVar(&o.measured, "measured", "", "date on which outcomes were noted, `YYYY-MM-DD`")
	flags.StringArrayVar(&o.happened, "happened", nil, "what happened around the test, `HH:MM WHAT`, with eating, exercise or other (may be repeated)")
	flags.StringVar(&o.lookedAt, "looked-at", "", "in `words` what was done about a safety line of the test")
	flags.StringVar(&o.correct, "correct", "", "correct an earlier test: the one on the same date and time, or =\"`YYYY-MM-DD HH:MM`\"")
	flags.Lookup("correct").NoOptDefVal = "yes"
	return cmd
}

func runRecord(s Streams, cmd *cobra.Command, dir string, o recordOptions) error {
	if o.date == "" && (o.measured == "" || len(o.outcomes) == 0) {
		return usagef("--date is missing; write for example --date 2027-01-11")
	}
	for flag, text := range map[string]string{"--date": o.date, "--measured": o.measured} {
		if _, err := protocol.ParseDate(text); err != nil && text != "" {
			return usagef("%s: %v", flag, err)
		}
	}
	f, err := protocol.Load(dir)
	if err != nil {
		return err
	}
	entry, err := o.entry(cmd.Flags().Changed, f)
	if err != nil {
		return err
	}
	return saveEntry(s, f, entry)
}

// runAskedRecord asks for the entry.
func runAskedRecord(s Streams, dir string) error {
	f, err := protocol.Load(dir)
	if err != nil {
		return err
	}
	entry, err := askEntry(s, dir, f)
	if err != nil {
		return err
	}
	if err := saveEntry(s, f, entry); err != nil || entry.Value != nil || entry.Time == nil {
		return err
	}
	say(s, "when the window is over, copy the sensor's file into %s, as it was exported", filepath.Join(dir, protocol.ReadingsDir))
	return nil
}

func saveEntry(s Streams, f *protocol.Folder, entry protocol.Entry) error {
	test, err := f.Record(entry)
	tell(s, f)
	if err != nil {
		return err
	}
	verb := "recorded"
	switch {
	case entry.Corrects != "":
		verb = "corrected"
	case entry.Adds():
		verb = "added to"
	}
	stop(s, f, test)
	_, err = fmt.Fprintf(s.Out, "%s %s %s%s; the log has %s\n", verb, test.Key(), test.Food, left(test), protocol.Count(len(f.Log.Tests), "test", "tests"))
	if err == nil && !test.HasValue && !test.HasTime {
		warn(s, "the test has neither a time for the readings nor a value; add one with --correct")
	}
	return err
}

func left(t *protocol.Test) string {
	if t.Exclude == "" {
		return ""
	}
	return ", left out (" + t.Exclude + ")"
}

// entry holds the flags that were given. The food of a new test may come from
// the schedule.
func (o recordOptions) entry(given func(string) bool, f *protocol.Folder) (protocol.Entry, error) {
	e := protocol.Entry{Date: o.date, Deviations: o.deviations, Happened: o.happened, Corrects: o.correct}
	for _, field := range []struct {
		flag  string
		value *string
		to    **string
	}{
		{"time", &o.time, &e.Time}, {"food", &o.food, &e.Food}, {"ate", &o.ate, &e.Ate},
		{"exclude", &o.exclude, &e.Exclude}, {"note", &o.note, &e.Note},
		{"looked-at", &o.lookedAt, &e.LookedAt}, {"measured", &o.measured, &e.Measured},
	} {
		if given(field.flag) {
			*field.to = field.value
		}
	}
	if given("block") {
		e.Block = &o.block
	}
	if given("value") {
		e.Value = &o.value
	}
	if given("exclude") && strings.TrimSpace(o.exclude) == "" && o.correct == "" {
		return e, usagef("--exclude: found no reason, expected one in words, such as --exclude \"ran for the bus\"")
	}
	var err error
	if e.Outcomes, err = outcomeEntries(o.outcomes); err != nil {
		return e, err
	}
	changes := 0
	for _, flag := range []string{"time", "food", "block", "ate", "value", "deviation", "exclude", "note", "outcome", "looked-at", "happened"} {
		if given(flag) {
			changes++
		}
	}
	if o.correct != "" && (changes == 0 || o.correct == "yes" && changes == 1 && given("time")) {
		return e, usagef("--correct: found nothing to change, expected for example --value 22; to mend the time itself write --correct=\"%s 07:32\" with the old time, and --time with the new one", o.date)
	}
	if !given("food") && o.correct == "" && !o.late(given, f) {
		date, _ := protocol.ParseDate(o.date)
		planned := f.Schedule.On(date)
		if planned == nil {
			return e, usagef("--food is missing, and the schedule has no test on %s to take it from", o.date)
		}
		e.Food = &planned.Food
	}
	return e, nil
}
