package cli

import (
	"bytes"
	"os"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view/page"
	"mealtrial/protocol"
)

type runsheetOptions struct {
	output
	date, key string
	helper    bool
}

func newRunsheet(s Streams) *cobra.Command {
	var o runsheetOptions
	cmd := &cobra.Command{
		Use:     "runsheet [study]",
		GroupID: groupDo,
		Short:   "Write a page to print for each test, with boxes to fill in",
		Long: `Write an HTML page to print, one sheet a test: what to eat and how much, how it is
prepared, when, the conditions to hold, boxes for the time of the first bite,
deviations and next-day scores, and when to stop. With --date the sheet of one
day.

While a schedule is masked the sheets show codes only. --helper is the version
for the helper who cooks: it names the foods from key.yaml, or from the file that
--key names, and records nothing.`,
		Example: `  mealtrial runsheet noodles --out sheets.html
  mealtrial runsheet noodles --date 2027-01-13 --out today.html
  mealtrial runsheet noodles --helper --key /media/helper/key.yaml --out kitchen.html`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error { return runRunsheet(s, folder(args), o) },
	}
	o.output.flags(cmd.Flags(), "HTML")
	cmd.Flags().StringVar(&o.date, "date", "", "the day of one test, `YYYY-MM-DD` (default: the whole schedule)")
	cmd.Flags().BoolVar(&o.helper, "helper", false, "name the foods of a masked schedule: for the helper, not for the tester")
	cmd.Flags().StringVar(&o.key, "key", "", "with --helper: the key `file` (default: key.yaml in the study)")
	return cmd
}

func runRunsheet(s Streams, dir string, o runsheetOptions) error {
	if _, err := o.kind("html", "html", "htm"); err != nil {
		return err
	}
	if o.key != "" && !o.helper {
		return usagef("--key: found it without --helper, expected both")
	}
	f, err := loadWithReadings(s, dir)
	if err != nil {
		return err
	}
	stopFirst(s, f)
	list, err := o.sheets(f)
	if err != nil {
		return err
	}
	if o.date != "" {
		if list, err = o.ofDay(list); err != nil {
			return err
		}
	}
	var text bytes.Buffer
	if err := page.WriteRunSheets(&text, f.Study.Title, list, o.helper); err != nil {
		return err
	}
	if o.helper {
		warn(s, "this version names the foods: it is for the helper, not for the tester")
	}
	return o.write(s, text.Bytes())
}

func (o *runsheetOptions) sheets(f *protocol.Folder) ([]protocol.RunSheet, error) {
	if !o.helper {
		return f.RunSheets()
	}
	if o.key == "" {
		return f.HelperSheets(nil)
	}
	data, err := os.ReadFile(o.key)
	if err != nil {
		return nil, usagef("--key: %v, expected the key file of the masked schedule", err)
	}
	return f.HelperSheets(data)
}

// ofDay keeps the sheet of the day that is asked for.
func (o *runsheetOptions) ofDay(list []protocol.RunSheet) ([]protocol.RunSheet, error) {
	day, err := protocol.ParseDate(o.date)
	if err != nil {
		return nil, usagef("--date: %v", err)
	}
	next := ""
	for _, s := range list {
		if s.Test.Date == day {
			return []protocol.RunSheet{s}, nil
		}
		if s.Test.Date > day && next == "" {
			next = "; the next test is on " + s.Test.Date.String()
		}
	}
	return nil, usagef("--date: no test is planned on %s%s", day, next)
}
