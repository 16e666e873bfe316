// Package grammar is how files of the notebook are written: TOML with every fault
// told by its key and line, numbers, times, and the limits of a file.
//
// Begin with Decode for the values of a file, and Faults for what is wrong with
// them.
package grammar
