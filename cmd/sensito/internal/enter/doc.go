// Package enter is the command that keys in readings, step after step, typed, piped
// or from an instrument. Begin with NewCommand.
package enter
