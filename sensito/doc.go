// Package sensito is what was done and read in a darkroom: trials of film and of
// paper, their strips, exposures and developments, and the quantities that all
// other packages compute with. Nothing is computed from them here: package curve
// reads one strip, development all strips of a trial against time, scene answers
// what to set and how long to develop.
//
// Begin with NewTrial, or with notebook.ReadFile, which calls it; the example goes
// on to the answer for a scene.
//
// Quantities that are easily confused have types of their own. Values are
// checked where they enter, by NewTrial and the exposure constructors, and not
// again. A derived number is an Estimate, with its standard error.
package sensito
