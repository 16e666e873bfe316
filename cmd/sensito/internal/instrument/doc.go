// Package instrument takes readings from a densitometer on a serial line, or from
// a file, a pipe or standard input, a line each. Begin with Options, the flags that
// say which; Open them, and Begin to read.
package instrument
