package cli

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/store"
)

func newInit(s Streams) *cobra.Command {
	var starter bool
	cmd := &cobra.Command{
		Use:     "init [study]",
		GroupID: groupStart,
		Short:   "Begin a study: write its study.yaml",
		Long: `On a terminal, ask for what a study needs, one question at a time, show a summary,
and write a commented study.yaml. Elsewhere, and with --starter, ask nothing and write
a starter that explains itself and can be planned as it stands, with a plan that starts
next Monday. A study.yaml that is there already is kept.

Where the terminal cannot redraw, or NO_COLOR or ACCESSIBLE is set, each question is one
plain line. Ctrl+C leaves without writing anything.`,
		Example: `  mealtrial init noodles
  mealtrial init noodles --starter`,
		Args: studyArg,
		RunE: func(cmd *cobra.Command, args []string) error { return runInit(s, folder(args), asks(s, cmd)) },
	}
	cmd.Flags().BoolVar(&starter, "starter", false, "write the starter; ask nothing")
	return cmd
}

func runInit(s Streams, dir string, asking bool) error {
	path := filepath.Join(dir, protocol.StudyFile)
	if _, err := os.Stat(path); err == nil {
		return problem.List{{File: path, Found: "a study already", Expected: "no " + protocol.StudyFile, Mend: "keep it, or name another folder"}}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	text, then := protocol.Starter(protocol.NewDate(s.Now())), "edit it, then"
	if asking {
		var err error
		if text, err = askStudy(s); err != nil {
			return err
		}
		then = "next"
	}
	if err := os.MkdirAll(filepath.Join(dir, protocol.ReadingsDir), 0o755); err != nil {
		return err
	}
	if err := protocol.WriteNew(dir, "init", []store.File{{Name: protocol.StudyFile, Data: text}}); err != nil {
		return err
	}
	name := ""
	if dir != "." {
		name = " " + dir
	}
	say(s, "wrote %s; %s: mealtrial check%s, mealtrial plan%s", path, then, name, name)
	return view.Caution(s.Out)
}
