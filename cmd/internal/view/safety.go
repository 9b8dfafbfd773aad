package view

import "mealtrial/protocol"

// safety shows the reasons to stop, before anything else, and below them those that
// were looked at.
func (p *printer) safety(lines []protocol.SafetyLine) {
	if len(lines) == 0 {
		return
	}
	open := false
	for _, l := range lines {
		open = open || l.LookedAt == ""
	}
	if open {
		p.line("STOP AND SEEK ADVICE: further tests of these foods are held back until they were looked at.")
	} else {
		p.line("Looked at")
	}
	for _, l := range lines {
		p.line("  ! %s", l.Text)
	}
	if open {
		p.line("  No diagnosis, and no replacement for a licensed clinician. When it was looked at: mealtrial record --date DATE --looked-at \"what was done\".")
	}
	p.line("")
}
