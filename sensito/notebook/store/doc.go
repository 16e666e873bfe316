// Package store keeps files so that nothing is lost: one writer at a time, whole
// or not at all, with the version before beside it, and no file replaced that is
// not meant.
//
// Begin with Update, which changes a file by a function of what it held.
package store
