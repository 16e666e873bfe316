// Package page is the notebook as a local web page: each screen is an address that can be
// kept, GET computes and draws, POST writes and leads on to a GET.
//
// Begin with New, which gives the handler of a notebook. What stands before it, who may
// ask at all, is the package guard; how a page is set, the package typeset; what a screen
// says of an answer, the package screen. Questions are asked through the package ask, as
// the command line asks them, so that both say the same.
package page
