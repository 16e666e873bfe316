// Package keyed is the language of the lines that key a strip in: a reading, or a word
// such as back or skip. Begin with Parse.
package keyed
