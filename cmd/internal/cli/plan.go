package cli

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
	"mealtrial/protocol/store"
)

type planOptions struct {
	seed   uint64
	ics    string
	masked bool
	json   bool
	month  bool
}

func newPlan(s Streams) *cobra.Command {
	var o planOptions
	cmd := &cobra.Command{
		Use:     "plan [study]",
		GroupID: groupStart,
		Short:   "Draw the randomised schedule onto the calendar",
		Long: `Draw the order of the tests: random within each block, on free days with the
washout between them. The result is schedule.yaml, with the seed and the lock
(the SHA-256 of study.yaml).

Blocks come from the plan: complete ones (every food once), of a size (block_size), or the lives of
sensors (sensors). Foods more than a block holds are laid out so that the
questions are answered with the least variance. Other keys of the plan: busy
(dates, ranges, calendar files), weekdays, per_week, washout_after,
washout_before, filming, run_in, carry_over, trend, consecutive, straddle,
reference_per_block, time, tolerance, fast, seed; of a food: repeats, from, until,
opened, keeps.

Without --seed or a seed in the study file the seed comes from the study file
itself, so the same study always gives the same schedule; with --masked it is secret and
lies in the key. A schedule by which
tests were eaten is never replaced. With --month a schedule that is there is shown as it
is, by months, and nothing is drawn; where there is none it is drawn first. Where a test of a food gave glucose below
70 mg/dL, above 250 mg/dL or ketones of 3.0 mmol/L or more, the food is planned
again only when the log says that it was looked at (record --looked-at).`,
		Example: `  mealtrial plan noodles --ics noodles.ics
  mealtrial plan noodles --masked
  mealtrial plan noodles --month`,
		Args: studyArg,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("seed") && o.masked {
				return usagef("--seed: found with --masked, expected neither seed nor order to be known; leave it away")
			}
			if cmd.Flags().Changed("seed") {
				if err := checkSeed(o.seed); err != nil {
					return err
				}
			}
			return runPlan(s, folder(args), o)
		},
	}
	cmd.Flags().Uint64Var(&o.seed, "seed", 0, "seed of the draw (default: from the study file)")
	cmd.Flags().StringVar(&o.ics, "ics", "", "also write the schedule as an iCalendar `file`")
	cmd.Flags().BoolVar(&o.masked, "masked", false, "show codes instead of foods; the key goes into key.yaml for the helper who cooks")
	cmd.Flags().BoolVar(&o.month, "month", false, "show the schedule by months: tests, washout, busy days, sensors, looks, today")
	cmd.Flags().BoolVar(&o.json, "json", false, "print the schedule, or with --month its days, as JSON")
	return cmd
}

func runPlan(s Streams, dir string, o planOptions) error {
	if err := mayWriteCalendar(o.ics); err != nil {
		return err
	}
	f, err := loadWithReadings(s, dir)
	if err != nil {
		return err
	}
	if o.month && f.Schedule != nil {
		for flag, given := range map[string]bool{"--seed": o.seed != 0, "--masked": o.masked, "--ics": o.ics != ""} {
			if given {
				return usagef("--month: found with %s and a schedule that is there, which --month only shows; take one of the two away", flag)
			}
		}
		return showDays(s, o.json, f)
	}
	if o.masked {
		o.seed = s.Secret()
	}
	schedule, err := drawSchedule(s, f.Study, o.seed)
	if err != nil {
		return err
	}
	if err := f.HeldBack(schedule.Tests); err != nil {
		return err
	}
	var key *protocol.Key
	if o.masked {
		if tell := schedule.Telling(f.Study); tell != "" {
			warn(s, "the codes hide less than they should: %s", tell)
		}
		masked, k := schedule.Mask(f.Study)
		schedule, key = masked, &k
	}
	if !f.Study.Safety.Answered {
		warn(s, "%s does not answer the safety questions; read mealtrial cautions before the first test", protocol.StudyFile)
	}
	if n := len(f.Log.Tests); f.Schedule == nil && n > 0 {
		warn(s, "%s has %d tests already, which this schedule did not order", protocol.LogFile, n)
	}
	err = f.SaveSchedule(schedule, key)
	tell(s, f)
	if err != nil {
		return err
	}
	say(s, "wrote %s", filepath.Join(dir, protocol.ScheduleFile))
	if o.masked {
		say(s, "wrote %s for the helper who cooks: do not open it, move it to them", filepath.Join(dir, protocol.KeyFile))
	}
	if err := writeCalendar(s, o.ics, f.Study, schedule); err != nil {
		return err
	}
	if o.month {
		f.Schedule = schedule
		return showDays(s, o.json, f)
	}
	return showSchedule(s, o.json, f.Study, schedule)
}

// showDays shows the schedule of a folder by months.
func showDays(s Streams, asJSON bool, f *protocol.Folder) error {
	days := f.Days(protocol.NewDate(s.Now().In(f.Study.Zone)))
	if asJSON {
		return writeJSON(s.Out, struct {
			Days    []protocol.Day `json:"days"`
			Caution string         `json:"caution"`
		}{days, protocol.ShortCaution})
	}
	if err := view.Days(s.Out, f.Study, days); err != nil {
		return err
	}
	return view.Caution(s.Out)
}

func showSchedule(s Streams, asJSON bool, study *protocol.Study, schedule *protocol.Schedule) error {
	if asJSON {
		return writeJSON(s.Out, struct {
			*protocol.Schedule
			Caution string `json:"caution"`
		}{schedule, protocol.ShortCaution})
	}
	if err := view.Schedule(s.Out, study, schedule); err != nil {
		return err
	}
	return view.Caution(s.Out)
}

// writeCalendar writes the schedule as an iCalendar file; no name, no file.
func writeCalendar(s Streams, name string, study *protocol.Study, schedule *protocol.Schedule) error {
	if name == "" {
		return nil
	}
	var calendar bytes.Buffer
	if err := view.Calendar(&calendar, study, schedule, s.Now()); err != nil {
		return err
	}
	if err := store.Write(filepath.Dir(name), store.File{Name: filepath.Base(name), Data: calendar.Bytes()}); err != nil {
		return err
	}
	say(s, "wrote %s", name)
	return nil
}

// mayWriteCalendar refuses, before anything is written, a name under which a
// calendar cannot be written or would take the place of something else.
func mayWriteCalendar(name string) error {
	if name == "" {
		return nil
	}
	if info, err := os.Stat(filepath.Dir(name)); err != nil || !info.IsDir() {
		return usagef("--ics: found no folder %s, expected one to write %s into", filepath.Dir(name), filepath.Base(name))
	}
	old, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil || !view.IsCalendar(old) {
		return usagef("--ics: found %s, which is no calendar that this program wrote, expected a new name", name)
	}
	return nil
}
