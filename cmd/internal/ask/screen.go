package ask

import (
	"io"
	"sync"

	tea "charm.land/bubbletea/v2"
	"charm.land/huh/v2"
	"charm.land/lipgloss/v2"
)

// A screen shows one question after the other in one run of the terminal, as a run for
// each would lose what is typed between them.
type screen struct {
	program *tea.Program
	over    chan struct{} // closed when the program has ended
	err     error         // why, where not because all was asked

	watch func(view string) // for tests: sees all that is shown

	mutex  sync.Mutex
	form   *huh.Form
	look   func()
	answer chan error
	size   *tea.WindowSizeMsg
}

// show asks the program for another question.
type show struct {
	form   *huh.Form
	look   func()
	answer chan error
}

func openScreen(in io.Reader, out io.Writer, watch func(string)) *screen {
	s := &screen{over: make(chan struct{}), watch: watch}
	options := []tea.ProgramOption{tea.WithInput(in), tea.WithOutput(out)}
	if watch != nil { // a test, without a terminal that has a size
		options = append(options, tea.WithWindowSize(80, 24))
	}
	s.program = tea.NewProgram(s, options...)
	go func() {
		defer close(s.over)
		_, s.err = s.program.Run()
	}()
	return s
}

func (s *screen) close() {
	s.program.Quit()
	<-s.over
}

// run shows a form until it is answered, and looks at it after each key.
func (s *screen) run(form *huh.Form, look func()) error {
	answer := make(chan error, 1)
	go s.program.Send(show{form, look, answer})
	select {
	case err := <-answer:
		return err
	case <-s.over:
		return ErrLeft
	}
}

// say prints text above the questions.
func (s *screen) say(text string) {
	if size := s.sized(); size != nil && size.Width > 0 {
		text = lipgloss.Wrap(text, size.Width, "")
	}
	s.program.Println(text)
}

func (s *screen) sized() *tea.WindowSizeMsg {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.size
}

// Init does nothing: there is no question yet.
func (s *screen) Init() tea.Cmd { return nil }

// Update hands what happens to the question that is shown.
func (s *screen) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case show:
		s.form, s.look, s.answer = msg.form, msg.look, msg.answer
		s.look()
		return s, s.form.Init()
	case tea.WindowSizeMsg:
		s.mutex.Lock()
		s.size = &msg
		s.mutex.Unlock()
	case tea.KeyPressMsg:
		switch {
		case msg.String() == "ctrl+c":
			s.reply(ErrLeft)
			return s, tea.Quit
		case msg.String() == "shift+tab" && s.form != nil:
			s.reply(errBack)
			return s, nil
		}
	}
	if s.form == nil {
		return s, nil
	}
	model, cmd := s.form.Update(msg)
	s.form = model.(*huh.Form)
	s.look()
	switch s.form.State {
	case huh.StateCompleted:
		s.reply(nil)
	case huh.StateAborted:
		s.reply(ErrLeft)
	}
	return s, cmd
}

func (s *screen) reply(err error) {
	if s.answer != nil {
		s.answer <- err
	}
	s.form, s.answer = nil, nil
}

// View is the question that is shown.
func (s *screen) View() tea.View {
	text := ""
	if s.form != nil {
		text = s.form.View()
	}
	if s.watch != nil {
		s.watch(text)
	}
	return tea.NewView(text)
}
