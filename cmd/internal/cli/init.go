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
	return &cobra.Command{
		Use:     "init [study]",
		GroupID: groupStart,
		Short:   "Write a commented starter study.yaml",
		Long: `Write a study.yaml that explains itself and can be planned as it stands, with a
plan that starts next Monday. A study.yaml that is there already is kept.`,
		Example: `  mealtrial init noodles`,
		Args:    studyArg,
		RunE:    func(_ *cobra.Command, args []string) error { return runInit(s, folder(args)) },
	}
}

func runInit(s Streams, dir string) error {
	path := filepath.Join(dir, protocol.StudyFile)
	if _, err := os.Stat(path); err == nil {
		return problem.List{{File: path, Found: "a study already", Expected: "no " + protocol.StudyFile, Mend: "keep it, or name another folder"}}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.MkdirAll(filepath.Join(dir, protocol.ReadingsDir), 0o755); err != nil {
		return err
	}
	if err := protocol.WriteNew(dir, "init", []store.File{{Name: protocol.StudyFile, Data: protocol.Starter(protocol.NewDate(s.Now()))}}); err != nil {
		return err
	}
	say(s, "wrote %s; edit it, then: mealtrial check %s, mealtrial plan %s", path, dir, dir)
	return view.Caution(s.Out)
}
