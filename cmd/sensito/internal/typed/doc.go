// Package typed understands answers as they are typed into questions: each function
// returns the answer as it is kept and, where it was not typed like that, what was
// understood in words. Begin with Number.
package typed
