// Package sensito is the domain of photographic sensitometry: strips of film
// with known exposures and measured densities, the characteristic curves
// fitted to them, speed and contrast with their uncertainty, families of
// strips developed for different times, and the exposure index and development
// time for a scene.
//
// Begin with a Trial, from notebook.ReadFile or NewTrial. Measure gives what one
// strip shows, NewFamily all strips against development time, and Family.For
// answers a scene: index, time, and where its tones land (see the example).
//
// Quantities that are easily confused have types of their own. Values are
// checked where they enter, by NewTrial and the exposure constructors, and not
// again. Every derived number gets its uncertainty through Derive, from the
// full covariance of the fit behind it.
package sensito
