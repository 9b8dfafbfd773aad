package view

import (
	"strings"

	"mealtrial/protocol"
)

// A Paragraph is a heading with its points.
type Paragraph struct {
	Heading string
	Points  []string
}

// CautionParagraphs are the cautions by heading.
func CautionParagraphs() (out []Paragraph) {
	for _, line := range strings.Split(strings.TrimSpace(protocol.Cautions), "\n") {
		text := strings.TrimSpace(line)
		switch {
		case text == "":
		case !strings.HasPrefix(line, " "):
			out = append(out, Paragraph{Heading: text})
		case strings.HasPrefix(text, "- ") || len(out[len(out)-1].Points) == 0:
			p := &out[len(out)-1]
			p.Points = append(p.Points, strings.TrimPrefix(text, "- "))
		default:
			p := &out[len(out)-1]
			p.Points[len(p.Points)-1] += " " + text
		}
	}
	return out
}

// StopRules are those of the cautions that say when to stop a test.
func StopRules() Paragraph {
	for _, p := range CautionParagraphs() {
		if strings.HasPrefix(p.Heading, "Stop a test") {
			return p
		}
	}
	panic("view: the cautions do not say when to stop")
}
