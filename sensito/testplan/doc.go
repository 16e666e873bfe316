// Package testplan says what to expose next: the first strips of a film that was
// never tested, and the strips that would sharpen an answer most.
//
// Begin with FirstTest before any strip, and with Propose when there are some.
package testplan
