package cli

import (
	"strings"
	"time"

	"github.com/cheggaaa/pb/v3"

	"mealtrial/protocol"
)

const (
	progressAfter = time.Second            // what is done sooner shows no bar
	progressEvery = 100 * time.Millisecond // between two drawings
	progressWidth = 78
)

// progressShape is plain ASCII without colour.
const progressShape = `{{string . "what"}} {{bar . "[" "=" ">" " " "]"}} {{percent . "%3.0f %%" "?"}} {{rtime . "%s left" "" ""}}`

// watch returns what shows how far a long work is, on standard error where that is a
// terminal, and what takes the bar away. Elsewhere nobody watches.
func (s Streams) watch(what string) (protocol.Watch, func()) {
	if !s.Terminal.Progress {
		return nil, func() {}
	}
	begun := s.Now()
	var drawn time.Time
	width := progressWidth
	if s.Width > 0 {
		width = min(width, s.Width-1)
	}
	bar := pb.New64(0).SetTemplateString(progressShape).Set("what", what).Set(pb.Static, true).Set(pb.Color, false).SetWidth(width).SetMaxWidth(width).SetWriter(s.Err).Start()
	show := func(done, total int64) {
		now := s.Now()
		if now.Sub(begun) < progressAfter || now.Sub(drawn) < progressEvery {
			return
		}
		drawn = now
		line := bar.SetTotal(total).SetCurrent(done).String()
		_, _ = s.Err.Write([]byte("\r" + line + strings.Repeat(" ", max(0, width-len(line)))))
	}
	end := func() {
		if !drawn.IsZero() {
			_, _ = s.Err.Write([]byte("\r" + strings.Repeat(" ", width) + "\r"))
		}
	}
	return show, end
}

// loadAll reads a study with its readings.
func loadAll(s Streams, dir string) (*protocol.Folder, error) {
	watch, end := s.watch("reading")
	defer end()
	return protocol.LoadAllWatched(dir, watch)
}

// drawSchedule draws a schedule, or finds out what would make it fit.
func drawSchedule(s Streams, study *protocol.Study, seed uint64) (*protocol.Schedule, error) {
	watch, end := s.watch("what would fit")
	defer end()
	study.Watch = watch
	return protocol.DrawSchedule(study, seed)
}
