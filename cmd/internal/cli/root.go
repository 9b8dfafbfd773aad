// Package cli is the command line: one file a command, each reads its flags,
// calls protocol and hands the result to a view.
package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
	"mealtrial/protocol/problem"
)

// Streams are what a command has of the world outside.
type Streams struct {
	In  io.Reader
	Out io.Writer // data
	Err io.Writer // progress, warnings and errors
	Now func() time.Time
	// Width is that of the terminal behind Out, in columns; 0: it is none.
	Width int
	// Secret gives a seed that nobody knows, for masked draws.
	Secret func() uint64
	// Terminal says whether a person can be asked.
	Terminal Terminal
	// Zone names the system's time zone in the IANA database; "": not known.
	Zone string
}

// Exit codes.
const (
	exitOK      = 0
	exitFailure = 1 // the disk, the system
	exitInput   = 2 // flags, arguments or files of the person
)

// mostErrors are shown of what is wrong, so that the first ones can be found again.
const mostErrors = 100

// usageError is a mistake in flags or arguments.
type usageError struct{ error }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// Run runs the program with its arguments and returns the exit code.
func Run(args []string, s Streams) int {
	s.Out = &view.Screen{Writer: s.Out, Width: s.Width}
	root := newRoot(s)
	root.SetArgs(args)
	root.SetIn(s.In)
	root.SetOut(s.Out)
	root.SetErr(s.Err)
	return report(s.Err, root.Execute())
}

// report prints an error, a line for each problem, and chooses the exit code.
func report(w io.Writer, err error) int {
	if err == nil {
		return exitOK
	}
	code := exitFailure
	var problems problem.List
	var usage usageError
	switch {
	case errors.As(err, &problems):
		code = exitInput
	case errors.As(err, &usage), strings.HasPrefix(err.Error(), "unknown command"):
		code = exitInput
	}
	lines := strings.Split(err.Error(), "\n")
	for _, line := range lines[:min(len(lines), mostErrors)] {
		if line = strings.TrimSpace(line); line != "" {
			fmt.Fprintln(w, "mealtrial: error: "+problem.Visible(line))
		}
	}
	if more := len(lines) - mostErrors; more > 0 {
		fmt.Fprintf(w, "mealtrial: error: and %d more like these; mend the first ones and run the command again\n", more)
	}
	if errors.As(err, &usage) {
		fmt.Fprintln(w, "mealtrial: hint: see mealtrial --help, or --help after a command")
	}
	return code
}

// plainFlagError words a flag that could not be read without the parser's terms.
func plainFlagError(err error) error {
	text := err.Error()
	if before, _, found := strings.Cut(text, ": strconv."); found {
		text = before + ": expected a number; decimals are written with a point"
		if strings.Contains(before, `"--seed"`) {
			text = fmt.Sprintf("%s: expected a whole number from 1 to %d", before, uint64(protocol.LargestSeed))
		}
	}
	return usageError{errors.New(text)}
}

// The stages of the work, by which --help groups the commands.
const (
	groupStart  = "start"
	groupDo     = "do"
	groupAnswer = "answer"
	groupAbout  = "about"
)

func newRoot(s Streams) *cobra.Command {
	format := string(view.FormatTable)
	screen := s.Out.(*view.Screen)
	root := &cobra.Command{
		Use:   "mealtrial",
		Short: "Plan and analyse food experiments on one person",
		Long: `mealtrial turns food tests on one person into an experiment: it draws the order
of the tests onto a calendar, takes one number from each test's glucose curve,
and says which differences are real, which are within noise, and what interval
may be quoted.

A study is a folder of plain files: study.yaml, schedule.yaml, log.yaml and the
sensor files in readings/. To see it all at work: mealtrial demo. To begin your own:
mealtrial init.`,
		Version:       protocol.Version,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return plainFlagError(err) })
	root.SetVersionTemplate("mealtrial {{.Version}}\n")
	root.AddGroup(
		&cobra.Group{ID: groupStart, Title: "Before the tests:"},
		&cobra.Group{ID: groupDo, Title: "While testing:"},
		&cobra.Group{ID: groupAnswer, Title: "Answers:"},
		&cobra.Group{ID: groupAbout, Title: "About:"},
	)
	cobra.EnableCommandSorting = false // they stand in the order in which they are needed
	root.AddCommand(
		newDemo(s),
		newInit(s),
		newCheck(s),
		newSpread(s),
		newPower(s),
		newRehearse(s),
		newPlan(s),
		newNext(s),
		newRunsheet(s),
		newRecord(s),
		newReadings(s),
		newResponses(s),
		newReplan(s),
		newUnmask(s),
		newAnalyse(s),
		newGap(s),
		newQuote(s),
		newRetest(s),
		newClaim(s),
		newFigure(s),
		newCard(s),
		newReport(s),
		newLabel(s),
		newExport(s),
		newCautions(s),
	)
	root.PersistentFlags().StringVar(&format, "format", format, "write results as table, markdown, csv or json")
	root.PersistentFlags().StringVar(&screen.Table, "table", "", "with --format csv: the `name` of the table, where a result has several")
	root.PersistentPreRunE = func(cmd *cobra.Command, _ []string) error { return setFormat(screen, cmd, view.Format(format)) }
	root.SetHelpCommandGroupID(groupAbout)
	root.SetCompletionCommandGroupID(groupAbout)
	return root
}

// studyArg accepts at most one argument, the folder of the study.
func studyArg(_ *cobra.Command, args []string) error {
	if len(args) > 1 {
		return usagef("found %d arguments %q, expected at most one, the folder of a study", len(args), args)
	}
	return nil
}

func checkSeed(seed uint64) error {
	if seed == 0 || seed > protocol.LargestSeed {
		return usagef("--seed: found %d, expected a whole number from 1 to %d", seed, uint64(protocol.LargestSeed))
	}
	return nil
}

func noArgs(_ *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usagef("found the argument %q, expected none", args[0])
	}
	return nil
}

// folder returns the study folder that an argument names, or the current one.
func folder(args []string) string {
	if len(args) == 0 {
		return "."
	}
	return args[0]
}

// setFormat prepares the screen. JSON and CSV are made from what --json prints.
func setFormat(screen *view.Screen, cmd *cobra.Command, format view.Format) error {
	if !slices.Contains(view.Formats, format) {
		return usagef("--format: found %q, expected one of table, markdown, csv and json", format)
	}
	if screen.Table != "" && format != view.FormatCSV {
		return usagef("--table goes with --format csv")
	}
	asJSON := cmd.Flags().Lookup("json")
	switch {
	case format != view.FormatCSV && format != view.FormatJSON:
	case asJSON == nil:
		return usagef("--format %s: %s prints no table of results", format, cmd.Name())
	case asJSON.Changed && format == view.FormatCSV:
		return usagef("found --json and --format csv, expected one of them")
	default:
		if err := asJSON.Value.Set("true"); err != nil {
			return err
		}
	}
	screen.Format = format
	return nil
}

// writeJSON writes a value as indented JSON, or a table of it as CSV where that was
// asked for. Characters that steer a terminal are escaped, those too that the
// standard lets stand.
func writeJSON(w io.Writer, v any) error {
	if screen, ok := w.(*view.Screen); ok && screen.Format == view.FormatCSV {
		_, err := view.CSV(screen.Writer, v, screen.Table)
		var none view.ErrNoTable
		if errors.As(err, &none) {
			return usagef("--table: %v", err)
		}
		return err
	}
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, steering.ReplaceAllStringFunc(string(data), func(c string) string {
		return fmt.Sprintf(`\u%04x`, []rune(c)[0])
	})+"\n")
	return err
}

var steering = regexp.MustCompile("[\u007f-\u009f\u202a-\u202e\u2066-\u2069]")

func warn(s Streams, format string, args ...any) {
	fmt.Fprintln(s.Err, "mealtrial: warning: "+problem.Visible(fmt.Sprintf(format, args...)))
}

// tell says what was put right in a study's folder on the way.
func tell(s Streams, f *protocol.Folder) {
	for _, note := range f.Notes {
		warn(s, "%s", note)
	}
	f.Notes = nil
}

func say(s Streams, format string, args ...any) {
	fmt.Fprintln(s.Err, "mealtrial: "+problem.Visible(fmt.Sprintf(format, args...)))
}
