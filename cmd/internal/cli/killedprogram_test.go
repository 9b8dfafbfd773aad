package cli

import (
	"errors"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"mealtrial/protocol"
)

var kills = flag.Int("kills", 100, "how often to kill the built program")

// TestKilledProgram kills the built program at random moments while it records; now
// and then several windows record at once. Every test whose recording was
// acknowledged by exit code 0 has to be in the log afterwards.
func TestKilledProgram(t *testing.T) {
	program := t.TempDir()
	inMemory(t)
	binary := filepath.Join(program, "mealtrial")
	if out, err := exec.Command("go", "build", "-o", binary, "mealtrial/cmd/mealtrial").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	demo := t.TempDir()
	run(t, "demo", "--dir", demo)
	random := rand.New(rand.NewPCG(20270111, 1))
	// The kills are spread over somewhat more than the time that recording takes here.
	var usual time.Duration
	scratch := filepath.Join(t.TempDir(), "study")
	run(t, "init", scratch)
	for i := range 3 {
		began := time.Now()
		if out, err := exec.Command(binary, "record", scratch, "--date", fmt.Sprintf("2027-01-%02d", 11+i), "--food", "bread", "--value", "31").CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		usual = max(usual, time.Since(began))
	}
	killed, acknowledged := 0, 0
	for killed < *kills {
		dir := filepath.Join(t.TempDir(), "study")
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		study, err := os.ReadFile(filepath.Join(demo, protocol.StudyFile))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, protocol.StudyFile), study, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		sure := map[string]bool{}
		for day := 0; day < 60 && killed < *kills; {
			windows := 1 + day%3
			day, killed, acknowledged = recordAndKill(t, binary, dir, random, usual, sure, day, windows, killed, acknowledged)
			holdsAll(t, dir, sure)
		}
	}
	t.Logf("killed %d times; %d recordings were acknowledged", killed, acknowledged)
	if acknowledged < *kills/20 {
		t.Errorf("only %d recordings were acknowledged: the kills come too early to mean anything", acknowledged)
	}
}

// recordAndKill starts some windows at once and kills each at a moment of its own.
func recordAndKill(t *testing.T, binary, dir string, random *rand.Rand, usual time.Duration, sure map[string]bool, day, windows, killed, acknowledged int) (int, int, int) {
	type window struct {
		date string
		cmd  *exec.Cmd
	}
	var open []window
	for range windows {
		date := time.Date(2027, 1, 11+day, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
		day++
		w := window{date, exec.Command(binary, "record", dir, "--date", date, "--food", "wheat", "--value", "31", "--note", "größer "+strings.Repeat("x", random.IntN(300)))}
		if err := w.cmd.Start(); err != nil {
			t.Fatal(err)
		}
		open = append(open, w)
	}
	for _, w := range open {
		timer := time.AfterFunc(time.Duration(random.Int64N(int64(usual)*int64(windows+1)*3/4)), func() { _ = w.cmd.Process.Kill() })
		err := w.cmd.Wait()
		timer.Stop()
		var exit *exec.ExitError
		switch {
		case err == nil:
			sure[w.date] = true
			acknowledged++
		case errors.As(err, &exit) && exit.ExitCode() > 0:
			t.Errorf("%s: exit %d", w.date, exit.ExitCode())
		default:
			killed++
		}
	}
	return day, killed, acknowledged
}

// holdsAll checks that all acknowledged tests are in the log.
func holdsAll(t *testing.T, dir string, sure map[string]bool) {
	t.Helper()
	f, err := protocol.Load(dir)
	if err != nil {
		t.Fatalf("the study does not load: %v", err)
	}
	if f.Log.HalfLine > 0 {
		t.Fatalf("a half-written entry on line %d", f.Log.HalfLine)
	}
	there := map[string]bool{}
	for _, test := range f.Log.Tests {
		there[test.Date.String()] = true
	}
	for _, date := range slices.Sorted(maps.Keys(sure)) {
		if !there[date] {
			t.Fatalf("the test of %s was acknowledged and is not in the log", date)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, protocol.ScheduleFile)); err == nil {
		t.Fatal(fmt.Errorf("a schedule from nowhere"))
	}
}
