// Package console is where a command meets the person or the script that runs it:
// standard streams, files that are read and written, questions at a terminal,
// interruptions, crashes, and how it is told how the command ended. Begin with
// Main, or with New where there is no process.
package console
