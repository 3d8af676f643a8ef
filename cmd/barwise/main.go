// Command barwise plans, proves and documents the carving of a mesh out of a bar.
package main

import (
	"os"

	"barwise/internal/cli"
)

func main() { os.Exit(cli.Main(os.Args[1:], os.Stdout, os.Stderr)) }
