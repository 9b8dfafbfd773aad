// Command mealtrial plans and analyses food experiments on one person.
package main

import (
	"crypto/rand"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"time"
	_ "time/tzdata" // for systems without a time zone database

	"golang.org/x/term"

	"mealtrial/cmd/internal/cli"
)

func main() {
	os.Exit(cli.Run(os.Args[1:], cli.Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now, Secret: secret, Width: width(), Terminal: terminal(), Zone: zone()}))
}

// terminal looks at the standard streams. NO_COLOR and ACCESSIBLE count when they are
// set and not empty (no-color.org; the second is a common practice, no source).
func terminal() cli.Terminal {
	is := func(f *os.File) bool { return term.IsTerminal(int(f.Fd())) }
	dumb := os.Getenv("TERM") == "dumb"
	return cli.Terminal{Asks: is(os.Stdin) && is(os.Stdout), Plain: dumb || os.Getenv("NO_COLOR") != "" || os.Getenv("ACCESSIBLE") != "", Progress: is(os.Stderr) && !dumb}
}

// zone names the system's time zone where TZ or the link /etc/localtime does.
func zone() string {
	if name := strings.TrimPrefix(os.Getenv("TZ"), ":"); name != "" {
		return name
	}
	target, err := os.Readlink("/etc/localtime")
	if err != nil {
		return ""
	}
	_, name, _ := strings.Cut(filepath.ToSlash(target), "zoneinfo/")
	return name
}

// width returns that of the terminal behind standard output; 0: it is none.
func width() int {
	columns, _, err := term.GetSize(int(os.Stdout.Fd()))
	if err != nil || !term.IsTerminal(int(os.Stdout.Fd())) {
		return 0
	}
	return columns
}

// secret returns a seed from the system's secure random source.
func secret() uint64 {
	var b [8]byte
	rand.Read(b[:]) // never fails, or the program ends
	return binary.LittleEndian.Uint64(b[:])>>11 | 1
}
