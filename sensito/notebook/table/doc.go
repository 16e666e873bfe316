// Package table is readings in other forms than the notebook's own: tables of
// text, workbooks, CGATS and JSON, in and out, and lines as a densitometer sends
// them.
//
// Begin with Import and Export.
package table
