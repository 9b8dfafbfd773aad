// Command mealtrial plans and analyses food experiments on one person.
package main

import (
	"os"
	"time"
	_ "time/tzdata" // for systems without a time zone database

	"mealtrial/cmd/internal/cli"
)

func main() {
	os.Exit(cli.Run(os.Args[1:], cli.Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now}))
}
