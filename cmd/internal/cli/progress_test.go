package cli

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

// A bar is shown on a terminal only, after a second, within its width and without
// control sequences other than the return to the line's begin, and is gone when done.
func TestProgress(t *testing.T) {
	for name, c := range map[string]struct {
		terminal bool
		lasts    time.Duration
		want     bool
	}{
		"long":        {true, 5 * time.Second, true},
		"short":       {true, 900 * time.Millisecond, false},
		"no terminal": {false, 5 * time.Second, false},
	} {
		t.Run(name, func(t *testing.T) {
			now, step := clock(), c.lasts/100
			var errs bytes.Buffer
			s := Streams{Err: &errs, Width: 60, Now: func() time.Time { now = now.Add(step); return now }, Terminal: Terminal{Progress: c.terminal}}
			watch, end := s.watch("rehearsing")
			if watch == nil == c.terminal {
				t.Fatalf("watched: %v", watch != nil)
			}
			for i := range int64(90) {
				if watch != nil {
					watch(i, 90)
				}
			}
			end()
			if !c.want {
				if errs.Len() > 0 {
					t.Errorf("it shows %q", errs.String())
				}
				return
			}
			frames := strings.Split(strings.Trim(errs.String(), "\r"), "\r")
			for i, frame := range frames {
				if strings.ContainsAny(frame, "\x1b\n") || len(frame) > 59 {
					t.Errorf("frame %d is %q", i, frame)
				}
			}
			if len(frames) < 10 || !strings.HasPrefix(frames[0], "rehearsing [") || !strings.Contains(frames[0], " %") {
				t.Errorf("%d frames, the first %q", len(frames), frames[0])
			}
			if last := frames[len(frames)-1]; strings.TrimSpace(last) != "" || !strings.HasSuffix(errs.String(), "\r") {
				t.Errorf("it is not gone: %q", last)
			}
		})
	}
}
