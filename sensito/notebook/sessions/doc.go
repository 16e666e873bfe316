// Package sessions keeps sessions by the clock in a notebook: sessions/DATE-N.jsonl,
// an event a line, to which lines are only ever added.
//
// Begin with Start, which makes a file, and Act, which adds to it what somebody does;
// Latest finds the session that has not been closed. An ID, such as 2026-06-04-1, is
// the name of the file without its ending, and may come from an address.
package sessions
