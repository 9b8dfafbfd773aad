package ask

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

func number(text string) error {
	if _, err := strconv.Atoi(text); err != nil {
		return fmt.Errorf("found %q, expected a whole number", text)
	}
	return nil
}

// conversation is three questions, the last of them only after a yes.
func conversation(a *Asker) (answers [3]string, err error) {
	answers[0] = "7"
	err = a.Steps([]Step{
		{Name: "Number", Answer: func() string { return answers[0] }, Ask: func() error {
			return a.Text(Question{Title: "Which number?", Check: number}, &answers[0])
		}},
		{Name: "More", Answer: func() string { return answers[1] }, Ask: func() error { return a.YesNo(Question{Title: "More?"}, &answers[1]) }},
		{Name: "What", Skip: func() bool { return answers[1] != "yes" }, Answer: func() string { return answers[2] }, Ask: func() error {
			return a.Choose(Question{Title: "What more?"}, []Option{{"the first", "a"}, {"the second", "b"}}, &answers[2])
		}},
	}, func() string { return "It comes to this." })
	return answers, err
}

func TestPlainLines(t *testing.T) {
	for name, c := range map[string]struct {
		typed string
		want  [3]string
		says  []string
		err   error
	}{
		"filled in":      {"\nno\n1\n", [3]string{"7", "no", ""}, []string{"Which number?", "[7] >", "Number: 7", "It comes to this.", "1. save", "[1] >"}, nil},
		"typed":          {"12\r\nY\n2\n\n", [3]string{"12", "yes", "b"}, nil, nil},
		"wrong at first": {"x\n8\nmaybe\nno\n1\n", [3]string{"8", "no", ""}, []string{`found "x", expected a whole number`, `found "maybe", expected yes or no`}, nil},
		"changed":        {"8\nno\n2\n2\nyes\n1\n1\n", [3]string{"8", "yes", "a"}, []string{"Which answer?", "2. More"}, nil},
		"left":           {"8\nno\n3\n", [3]string{"8", "no", ""}, nil, ErrLeft},
		"ended":          {"8\n", [3]string{"8", "", ""}, nil, ErrLeft},
		"never began":    {"", [3]string{"7", "", ""}, nil, ErrLeft},
		"wrong, ended":   {"8\nyes\n9\n", [3]string{"8", "yes", ""}, nil, ErrLeft},
		"half a line":    {"8\nno\n1", [3]string{"8", "no", ""}, nil, nil},
	} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			got, err := conversation(&Asker{In: strings.NewReader(c.typed), Out: &out, Plain: true})
			if got != c.want && c.err == nil || !errors.Is(err, c.err) {
				t.Errorf("answers %q, %v; want %q, %v\n%s", got, err, c.want, c.err, out.String())
			}
			for _, want := range c.says {
				if !strings.Contains(out.String(), want) {
					t.Errorf("it does not say %q\n%s", want, out.String())
				}
			}
			if strings.Contains(out.String(), "\x1b") {
				t.Errorf("plain lines hold control sequences: %q", out.String())
			}
		})
	}
}

// A filled-in answer that an earlier change has made wrong is not taken by Enter.
func TestFilledInIsChecked(t *testing.T) {
	var out bytes.Buffer
	a := &Asker{In: strings.NewReader("\n5\n"), Out: &out, Plain: true}
	answer := "five"
	if err := a.Text(Question{Title: "Which number?", Check: number}, &answer); err != nil || answer != "5" {
		t.Errorf("%q, %v", answer, err)
	}
	answer = "5"
	a = &Asker{In: strings.NewReader("-\n"), Out: &out, Plain: true}
	if err := a.Text(Question{Title: "Which number?", Check: number, Optional: true}, &answer); err != nil || answer != "" {
		t.Errorf("a dash leaves %q, %v", answer, err)
	}
}

// typist types one key after the other, each when the screen shows what it waits for.
type typist struct {
	mutex sync.Mutex
	view  string
}

func (p *typist) watch(view string) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.view = view
}

func (p *typist) sees(text string) bool {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	return strings.Contains(p.view, text)
}

func (p *typist) typeTo(t *testing.T, w io.WriteCloser, script [][2]string) {
	for _, step := range script {
		for wait := 0; !p.sees(step[0]); wait++ {
			if wait > 1000 {
				t.Errorf("it never shows %q, but %q", step[0], p.view)
				_, _ = io.WriteString(w, "\x03")
				return
			}
			time.Sleep(5 * time.Millisecond)
		}
		if _, err := io.WriteString(w, step[1]); err != nil {
			t.Error(err)
		}
	}
}

// On a terminal that is redrawn the same is asked; Shift+Tab goes back, and what is
// wrong is said while it is typed.
func TestScreen(t *testing.T) {
	const enter, back, erase, leaves = "\r", "\x1b[Z", "\x7f", "\x03"
	for name, c := range map[string]struct {
		script [][2]string
		want   [3]string
		err    error
	}{
		"answers": {[][2]string{{"Which number?", erase + "12" + enter}, {"More?", "no" + enter}, {"Save?", enter}}, [3]string{"12", "no", ""}, nil},
		"back":    {[][2]string{{"Which number?", enter}, {"More?", back}, {"Which number?", erase + "3" + enter}, {"More?", "yes" + enter}, {"What more?", enter}, {"Save?", enter}}, [3]string{"3", "yes", "a"}, nil},
		"checked": {[][2]string{{"Which number?", "x"}, {"not yet", erase + enter}, {"More?", "no" + enter}, {"Save?", enter}}, [3]string{"7", "no", ""}, nil},
		"left":    {[][2]string{{"Which number?", enter}, {"More?", leaves}}, [3]string{"7", "", ""}, ErrLeft},
	} {
		t.Run(name, func(t *testing.T) {
			in, typed := io.Pipe()
			p := &typist{}
			go p.typeTo(t, typed, c.script)
			got, err := conversation(&Asker{In: in, Out: io.Discard, watch: p.watch})
			if got != c.want || !errors.Is(err, c.err) {
				t.Errorf("answers %q, %v; want %q, %v", got, err, c.want, c.err)
			}
		})
	}
}
