// Command sensito turns densitometer readings of step-wedge exposures into
// characteristic curves, film speed, contrast, and for one scene an exposure
// index and a development time.
package main

import (
	"os"

	"sensito/cmd/sensito/internal/console"
)

func main() { os.Exit(console.Main(newRootCmd, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
