package cli

import (
	"bytes"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view/page"
	"mealtrial/protocol"
)

func newReport(s Streams) *cobra.Command {
	var out output
	cmd := &cobra.Command{
		Use:     "report [study]",
		GroupID: groupAnswer,
		Short:   "Write the whole study as one HTML page",
		Long: `Write one HTML file with the answers, the pictures, every test, the schedule as
planned and as it went, how far the answers hold, advice on retests, deviations
and exclusions, the methods, a checklist for reports of trials on one person,
and the cautions. The file needs nothing else: no network, no font, no script.
It is made for phones, screens, light or dark, and for paper (A4 or Letter). It
counts as a look.`,
		Example: `  mealtrial report noodles --out noodles.html`,
		Args:    studyArg,
		RunE:    func(_ *cobra.Command, args []string) error { return runReport(s, folder(args), out) },
	}
	out.flags(cmd.Flags(), "HTML")
	return cmd
}

func runReport(s Streams, dir string, out output) error {
	if _, err := out.kind("html", "html", "htm"); err != nil {
		return err
	}
	f, err := loadAll(s, dir)
	if err != nil {
		return err
	}
	today := protocol.NewDate(s.Now().In(f.Study.Zone))
	advice, a, err := f.Retest(today + 1)
	if err != nil {
		return err
	}
	stopFirst(s, f)
	responses, _ := f.Responses()
	f.FlagFloor(responses)
	var text bytes.Buffer
	if err := page.Write(&text, page.Input{Folder: f, Analysis: a, Retest: advice, Responses: responses, Today: today}); err != nil {
		return err
	}
	if err := f.RecordLook(a, today); err != nil {
		return err
	}
	return out.write(s, text.Bytes())
}
