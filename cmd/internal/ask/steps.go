package ask

import (
	"errors"
	"fmt"
)

// A Step asks for one thing, in one question or some that belong together.
type Step struct {
	Name string // in the summary
	Ask  func() error
	// Answer is what the summary shows; "": nothing.
	Answer func() string
	// Skip tells whether the step is not to be asked, by what was answered before;
	// nil: it always is.
	Skip func() bool

	asked bool
}

func (s *Step) skipped() bool { return s.Skip != nil && s.Skip() }

// What may be done with a summary.
const (
	save   = "save"
	change = "change"
	leave  = "leave"
)

// Steps asks the steps in their order, shows what was answered, and lets the person
// change answers until they save. Summary says what the answers come to. The error is
// ErrLeft where they leave.
func (a *Asker) Steps(steps []Step, summary func() string) error {
	defer a.Close()
	if a.Plain {
		a.Say("Enter: take the answer in [brackets]. Ctrl+D: leave without saving.")
	} else {
		a.Say("Enter: take the answer. Shift+Tab: one question back. Ctrl+C: leave.")
	}
	for {
		if err := a.askAll(steps); err != nil {
			return err
		}
		a.Say("\nSummary")
		for i := range steps {
			if answer := steps[i].answer(); answer != "" {
				a.Say(fmt.Sprintf("  %s: %s", steps[i].Name, answer))
			}
		}
		if text := summary(); text != "" {
			a.Say(text)
		}
		what := save
		err := a.Choose(Question{Title: "Save?"}, []Option{{"save", save}, {"change an answer", change}, {"leave without saving", leave}}, &what)
		switch {
		case errors.Is(err, errBack):
			what = change
		case err != nil:
			return err
		}
		if what == save {
			return nil
		}
		if what == leave {
			return ErrLeft
		}
		if err := a.changeOne(steps); err != nil {
			return err
		}
	}
}

func (s *Step) answer() string {
	if s.skipped() || s.Answer == nil {
		return ""
	}
	return s.Answer()
}

// askAll asks what was not asked yet.
func (a *Asker) askAll(steps []Step) error {
	for i := 0; i < len(steps); {
		step := &steps[i]
		if step.asked || step.skipped() {
			i++
			continue
		}
		err := step.Ask()
		if errors.Is(err, errBack) {
			i = before(steps, i)
			continue
		}
		if err != nil {
			return err
		}
		step.asked = true
	}
	return nil
}

// before returns the step that was asked before one, which is to be asked again, or
// the same where there is none.
func before(steps []Step, i int) int {
	for j := i - 1; j >= 0; j-- {
		if steps[j].asked && !steps[j].skipped() {
			steps[j].asked = false
			return j
		}
	}
	return i
}

func (a *Asker) changeOne(steps []Step) error {
	var options []Option
	for i := range steps {
		if !steps[i].skipped() {
			options = append(options, Option{steps[i].Name, fmt.Sprint(i)})
		}
	}
	which := options[0].Value
	if err := a.Choose(Question{Title: "Which answer?"}, options, &which); err != nil && !errors.Is(err, errBack) {
		return err
	} else if err != nil {
		return nil
	}
	for i := range steps {
		if fmt.Sprint(i) == which {
			steps[i].asked = false
		}
	}
	return nil
}
