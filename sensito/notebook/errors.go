package notebook

import "sensito/sensito/notebook/internal/grammar"

// Error is one fault of a file: where it is, and what is wrong.
type Error = grammar.Error

// Errors are all faults of one file in the order of its lines, at least one.
type Errors = grammar.Errors
