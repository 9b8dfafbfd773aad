package cli

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/card"
	"mealtrial/protocol"
)

type cardOptions struct {
	output
	shape                                 string
	portrait, dark, transparent, sequence bool
}

func newCard(s Streams) *cobra.Command {
	var o cardOptions
	cmd := &cobra.Command{
		Use:     "card QUESTION|FOOD [study]",
		GroupID: groupAnswer,
		Short:   "Draw an on-screen card of one question or one food",
		Long: `Draw a card for a film: the value, its interval as a bar, the number of tests,
the level, and that it is one person and no advice. There is no card without an
interval and a number of tests. A question is named as it stands in the study
file, a food by its id.

The card is 1920 × 1080 pixels, or 1080 × 1920 with --portrait, with an alpha
channel: a lower third leaves the rest of the frame empty, and --transparent
leaves the paper out as well. The smallest text is 44 pixels high, in portrait
42. With --sequence there are two files, of the first single test of each food
and of the repeated tests, with bars on one scale. It counts as a look.`,
		Example: `  mealtrial card "lupin vs wheat" noodles --out card.png
  mealtrial card lupin noodles --out lupin.png --shape lower-third --portrait
  mealtrial card "lupin vs wheat" noodles --out card.png --sequence`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return usagef("found %d arguments, expected a question in quotation marks or a food, and the study", len(args))
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error { return runCard(s, args[0], folder(args[1:]), o) },
	}
	o.output.flags(cmd.Flags(), "PNG or SVG")
	cmd.Flags().StringVar(&o.shape, "shape", string(card.Full), "full or lower-third")
	cmd.Flags().BoolVar(&o.portrait, "portrait", false, "1080 × 1920 pixels")
	cmd.Flags().BoolVar(&o.dark, "dark", false, "light text on dark paper")
	cmd.Flags().BoolVar(&o.transparent, "transparent", false, "no paper behind the card")
	cmd.Flags().BoolVar(&o.sequence, "sequence", false, "two cards: two single tests, then the repeated tests")
	return cmd
}

func runCard(s Streams, what, dir string, o cardOptions) error {
	if o.shape != string(card.Full) && o.shape != string(card.LowerThird) {
		return usagef("--shape: found %q, expected %s or %s", o.shape, card.Full, card.LowerThird)
	}
	outputs, kind, err := o.outputs()
	if err != nil {
		return err
	}
	f, a, err := analysed(s, dir, nil, false)
	if err != nil {
		return err
	}
	stopFirst(s, f)
	cards, err := o.cards(f, a, what)
	if err != nil {
		return err
	}
	format := card.Landscape
	if o.portrait {
		format = card.Portrait
	}
	span := card.SpanOf(cards...)
	write := picture{scale: 1, transparent: true, dark: o.dark}
	var files [][]byte
	for _, c := range cards {
		data, err := write.encode(s, card.Draw(c, format, card.Shape(o.shape), &span, !o.transparent), kind)
		if err != nil {
			return err
		}
		files = append(files, data)
	}
	if err := recordLook(s, f, a); err != nil {
		return err
	}
	for i, data := range files {
		if err := outputs[i].write(s, data); err != nil {
			return err
		}
	}
	return nil
}

// outputs are the files of the cards, one or two, and their kind.
func (o *cardOptions) outputs() (outputs []output, kind string, err error) {
	if !o.sequence {
		kind, err = o.kind("svg", "svg", "png")
		return []output{o.output}, kind, err
	}
	if o.name == "" {
		return nil, "", usagef("--sequence: found no --out, expected a name such as card.png, of which card-1.png and card-2.png are made")
	}
	ending := filepath.Ext(o.name)
	for _, name := range card.Names(strings.TrimSuffix(o.name, ending), ending, 2) {
		one := output{name, o.overwrite}
		if kind, err = one.kind("svg", "svg", "png"); err != nil {
			return nil, "", err
		}
		outputs = append(outputs, one)
	}
	return outputs, kind, nil
}

// cards are the one that is asked for, and before it that of two single tests.
func (o *cardOptions) cards(f *protocol.Folder, a *protocol.Analysis, what string) ([]*view.OnScreen, error) {
	wanted := strings.Join(strings.Fields(what), " ")
	for _, q := range a.Questions {
		if q.Question != wanted {
			continue
		}
		c, err := view.QuestionCard(a, q)
		if err != nil {
			return nil, usagef("%v", err)
		}
		if !o.sequence {
			return []*view.OnScreen{c}, nil
		}
		gap, err := f.FirstPair(a, q)
		if err != nil {
			return nil, err
		}
		first, err := view.PairCard(a, q, gap)
		if err != nil {
			return nil, usagef("%v", err)
		}
		c.Stage = "Repeated tests"
		return []*view.OnScreen{first, c}, nil
	}
	if o.sequence {
		return nil, usagef("--sequence: found %q, expected one of the questions %s", what, askable(f, true))
	}
	if f.Study.Food(wanted) < 0 {
		return nil, usagef("found %q, expected one of the questions or foods %s", what, askable(f, false))
	}
	c, err := view.FoodCard(a, wanted)
	if err != nil {
		return nil, usagef("%v", err)
	}
	return []*view.OnScreen{c}, nil
}

// askable lists what a card can be of.
func askable(f *protocol.Folder, questionsOnly bool) string {
	var names []string
	for _, q := range f.Study.Questions {
		names = append(names, fmt.Sprintf("%q", q.Text))
	}
	if !questionsOnly {
		for _, food := range f.Study.Foods {
			names = append(names, food.ID)
		}
	}
	return strings.Join(names, ", ")
}
