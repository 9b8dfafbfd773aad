// Command mealtrial plans and analyses food experiments on one person.
package main

import (
	"crypto/rand"
	"encoding/binary"
	"os"
	"time"
	_ "time/tzdata" // for systems without a time zone database

	"golang.org/x/term"

	"mealtrial/cmd/internal/cli"
)

func main() {
	os.Exit(cli.Run(os.Args[1:], cli.Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now, Secret: secret, Width: width()}))
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
