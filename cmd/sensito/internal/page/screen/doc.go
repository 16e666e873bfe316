// Package screen says what the screens of the page, and the parts of the report, show of a
// result: sentences, tables and figures as text that is ready to be set, rounded once.
// Nothing is computed here.
//
// Begin with NewTrial; each other screen has a constructor that is called like it. What one
// returns is the content of a page of package typeset. Run, Note and Table are what contents
// are made of.
package screen
