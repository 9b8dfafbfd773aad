package cli

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// clock is the time in every test: a Wednesday.
func clock() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) }

// mealtrial is the program as the scripts run it. COLUMNS and the real clock
// play no part in it. With TEST_TERMINAL a person is taken to sit there, who is asked
// in plain lines.
func mealtrial() {
	terminal := Terminal{Asks: os.Getenv("TEST_TERMINAL") != "", Plain: true}
	os.Exit(Run(os.Args[1:], Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: clock, Secret: func() uint64 { return 271828 }, Terminal: terminal, Zone: "Europe/Vienna"}))
}

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"mealtrial": mealtrial})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exit":  exitCode,
			"bytes": writeBytes,
		},
	})
}

// exitCode runs a command and compares its exit code: exit 2 mealtrial check.
func exitCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exit CODE COMMAND [ARGS]")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := "0"
	if err != nil {
		code = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if code != args[0] {
		ts.Fatalf("exit code %s, want %s", code, args[0])
	}
}

// writeBytes replaces escapes in a file by the bytes they stand for, so that
// scripts can hold text that is not UTF-8: bytes FILE.
func writeBytes(ts *testscript.TestScript, _ bool, args []string) {
	text := ts.ReadFile(args[0])
	text = strings.NewReplacer(`\xe9`, "\xe9", `\xff`, "\xff", `\xfe`, "\xfe", `\xef\xbb\xbf`, "\xef\xbb\xbf", `\r`, "\r", `\0`, "\x00").Replace(text)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o644))
}
