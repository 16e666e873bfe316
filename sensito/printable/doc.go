// Package printable keeps text printable: it escapes what does not show in text
// that nobody checked, such as the name of a file (begin with Text), and refuses
// it in what a photographer writes (CheckLine, CheckNote).
package printable
