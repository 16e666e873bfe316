// Package typeset sets the pages of a notebook in HTML: one set of templates and one
// style sheet for the local page and for the report that is a file. It knows no film
// and no request; what a page says is its content, which package screen makes.
//
// Begin with Write, which sets a Page by the template of a name.
package typeset
