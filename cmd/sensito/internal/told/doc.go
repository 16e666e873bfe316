// Package told says in words what a strip of a trial has, what it came to, and what
// differs between two states of a trial. Begin with Summary.
package told
