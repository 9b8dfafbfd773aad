// Package ask asks a person on a terminal, one question at a time, with the keyboard
// alone. Where the terminal is dumb, or colours or redrawing are not wanted, each
// question is a line that is printed once and read once, which screen readers follow.
// It is the only place that knows the form library.
package ask

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"charm.land/huh/v2"
)

// ErrLeft says that the person left, or that the input ended, before all was asked.
var ErrLeft = errors.New("left before the end; nothing was saved")

// errBack says that the person wants the question before.
var errBack = errors.New("the question before")

// None is what is typed, in place of an answer that is filled in, for no answer.
const None = "-"

// An Asker asks on one terminal.
type Asker struct {
	In    io.Reader
	Out   io.Writer
	Plain bool // lines that are printed once, nothing is redrawn

	lines  *lines
	screen *screen
	watch  func(view string) // for tests
}

// A Question is what is asked.
type Question struct {
	Title, Help string
	// Check returns what is wrong with an answer; nil: nothing can be. It is held
	// against the answer while it is typed.
	Check func(string) error
	// Hint says what an answer comes to, such as the day of the week of a date.
	Hint     func(string) string
	Optional bool // an empty answer is one
}

func (q Question) check(answer string) error {
	if answer = strings.TrimSpace(answer); answer == "" || answer == None {
		if q.Optional {
			return nil
		}
		return errors.New("an answer is needed")
	}
	if q.Check == nil {
		return nil
	}
	return q.Check(answer)
}

// state words an answer while it is typed.
func (q Question) state(answer string) string {
	if strings.TrimSpace(answer) == "" {
		return ""
	}
	if err := q.check(answer); err != nil {
		return "not yet: " + err.Error()
	}
	if q.Hint == nil || strings.TrimSpace(answer) == None {
		return ""
	}
	return q.Hint(strings.TrimSpace(answer))
}

// Text asks for a line of text; *answer is filled in.
func (a *Asker) Text(q Question, answer *string) error {
	typed := *answer
	help := q.Help
	if q.Optional {
		help = strings.TrimSpace(help + " Empty, or " + None + ": none.")
	}
	input := huh.NewInput().Value(&typed)
	if a.Plain {
		if state := q.state(typed); state != "" && q.Hint != nil {
			help = strings.TrimSpace(help + " (" + state + ")")
		}
		a.say(q.Title, help)
		prompt := ">"
		if typed != "" {
			prompt = "[" + typed + "] >"
		}
		input = input.Title(prompt).Validate(func(answer string) error { return q.check(cmp.Or(strings.TrimSpace(answer), typed)) })
	} else {
		input = input.Title(q.Title).Prompt("> ").Validate(q.check)
	}
	look := func() { input.Description(strings.TrimSpace(help + "\n" + q.state(typed))) }
	if err := a.run(input, look); err != nil {
		return err
	}
	if typed = strings.TrimSpace(typed); typed == None {
		typed = ""
	}
	*answer = typed
	a.done(q.Title, cmp.Or(typed, "none"))
	return nil
}

// An Option is one of several answers.
type Option struct{ Words, Value string }

// Choose asks for one of several answers; *answer is filled in.
func (a *Asker) Choose(q Question, options []Option, answer *string) error {
	if a.Plain {
		return a.chooseNumber(q, options, answer)
	}
	var all []huh.Option[string]
	for _, o := range options {
		all = append(all, huh.NewOption(o.Words, o.Value))
	}
	chosen := *answer
	field := huh.NewSelect[string]().Title(q.Title).Description(q.Help).Options(all...).Value(&chosen)
	if err := a.run(field, func() {}); err != nil {
		return err
	}
	*answer = chosen
	for _, o := range options {
		if o.Value == chosen {
			a.done(q.Title, o.Words)
		}
	}
	return nil
}

// chooseNumber asks for the number of an answer. The library's own way breaks where
// the input ends after a number that there is not.
func (a *Asker) chooseNumber(q Question, options []Option, answer *string) error {
	a.say(q.Title, q.Help)
	filled := ""
	for i, o := range options {
		fmt.Fprintf(a.Out, "  %d. %s\n", i+1, o.Words)
		if o.Value == *answer {
			filled = fmt.Sprint(i + 1)
		}
	}
	number := filled
	prompt := ">"
	if filled != "" {
		prompt = "[" + filled + "] >"
	}
	check := func(text string) error {
		text = cmp.Or(strings.TrimSpace(text), filled)
		if i, err := strconv.Atoi(text); err != nil || i < 1 || i > len(options) {
			return fmt.Errorf("found %q, expected a number from 1 to %d", text, len(options))
		}
		return nil
	}
	if err := a.run(huh.NewInput().Value(&number).Title(prompt).Validate(check), func() {}); err != nil {
		return err
	}
	i, err := strconv.Atoi(number)
	if err != nil || check(number) != nil {
		return ErrLeft // the input ended
	}
	*answer = options[i-1].Value
	return nil
}

// YesNo asks for yes or no, typed out, as nothing is filled in at first.
func (a *Asker) YesNo(q Question, answer *string) error {
	q.Help = strings.TrimSpace(q.Help + " yes or no")
	q.Check = func(text string) error {
		if whole(text) == "" {
			return fmt.Errorf("found %q, expected yes or no", text)
		}
		return nil
	}
	if err := a.Text(q, answer); err != nil {
		return err
	}
	*answer = whole(*answer)
	return nil
}

// whole is yes or no of an answer, which may be its first letter; "": neither.
func whole(answer string) string {
	switch strings.ToLower(answer) {
	case "y", "yes":
		return "yes"
	case "n", "no":
		return "no"
	}
	return ""
}

// Say prints a paragraph between questions.
func (a *Asker) Say(text string) {
	if !a.Plain {
		if a.screen == nil {
			a.screen = openScreen(a.In, a.Out, a.watch)
		}
		a.screen.say(text)
		return
	}
	fmt.Fprintln(a.Out, text)
}

func (a *Asker) say(title, help string) {
	fmt.Fprintln(a.Out, title)
	if help != "" {
		fmt.Fprintln(a.Out, "  "+help)
	}
}

// done leaves the answer on the screen, where the question was redrawn.
func (a *Asker) done(title, answer string) {
	if !a.Plain {
		a.Say(title + " " + answer)
	}
}

// run asks one question; look is called whenever something was typed.
func (a *Asker) run(field huh.Field, look func()) error {
	form := huh.NewForm(huh.NewGroup(field))
	if !a.Plain {
		if a.screen == nil {
			a.screen = openScreen(a.In, a.Out, a.watch)
		}
		if _, text := field.(*huh.Input); text {
			form = form.WithHeight(textHeight)
		}
		return a.screen.run(form.WithTheme(huh.ThemeFunc(huh.ThemeBase)), look)
	}
	if a.lines == nil {
		a.lines = &lines{from: bufio.NewReader(a.In)}
	}
	plain := huh.ThemeFunc(func(bool) *huh.Styles { return &huh.Styles{} })
	if err := form.WithTheme(plain).WithAccessible(true).WithInput(a.lines).WithOutput(a.Out).Run(); err != nil {
		return err
	}
	if a.lines.ended {
		return ErrLeft
	}
	return nil
}

// textHeight leaves room for what is said about an answer while it is typed.
const textHeight = 12

// Close gives the terminal back.
func (a *Asker) Close() {
	if a.screen != nil {
		a.screen.close()
		a.screen = nil
	}
}

// lines hands out one line a read, as a terminal does, so that nothing typed ahead is
// lost between questions, and remembers when the input has ended.
type lines struct {
	from  *bufio.Reader
	rest  []byte
	ended bool
}

func (l *lines) Read(p []byte) (int, error) {
	if len(l.rest) == 0 {
		line, err := l.from.ReadBytes('\n')
		if len(line) == 0 {
			l.ended = true
			return 0, err
		}
		if err == nil || errors.Is(err, io.EOF) {
			line = append([]byte(strings.TrimRight(string(line), "\r\n")), '\n')
		}
		l.rest = line
	}
	n := copy(p, l.rest)
	l.rest = l.rest[n:]
	return n, nil
}
