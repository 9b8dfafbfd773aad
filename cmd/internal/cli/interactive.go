package cli

import (
	"errors"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"mealtrial/cmd/internal/ask"
	"mealtrial/cmd/internal/view"
)

// A Terminal says whether a person can be asked, and how.
type Terminal struct {
	Asks  bool // standard input and output are both a terminal
	Plain bool // it is a dumb one, or NO_COLOR or ACCESSIBLE asks for plain lines
	// Progress: standard error is a terminal that can redraw a line.
	Progress bool
}

// asks tells whether a command is to ask: a person can be asked, and gave no flag of
// the command that says it already.
func asks(s Streams, cmd *cobra.Command) bool {
	given := false
	cmd.Flags().Visit(func(f *pflag.Flag) {
		given = given || cmd.Root().PersistentFlags().Lookup(f.Name) == nil
	})
	return s.Terminal.Asks && !given
}

// asker returns what asks on the terminal behind In and Out.
func (s Streams) asker() *ask.Asker {
	out := s.Out
	if screen, ok := out.(*view.Screen); ok {
		out = screen.Writer // the terminal itself, whose size the form asks for
	}
	return &ask.Asker{In: s.In, Out: out, Plain: s.Terminal.Plain}
}

// askedAll asks the steps of a command. An error that the person did not cause by
// leaving is of the terminal.
func askedAll(a *ask.Asker, steps []ask.Step, summary func() string) error {
	err := a.Steps(steps, summary)
	if errors.Is(err, ask.ErrLeft) {
		return errLeft
	}
	return err
}

// errLeft is no mistake of the person: exit code 1, and nothing was written.
var errLeft = errors.New("left before saving; nothing was written")
