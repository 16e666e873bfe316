// Package development is one film over development time: contrast, speed and fog
// of the strips of a trial taken together, the law of their growth, and what
// another temperature, agitation or dilution does to the time.
//
// Begin with NewFamily, which joins the strips of a trial; Family.At answers for a
// time and Family.Under for other conditions. Table keeps quantities of several
// strips with every correlation, for what is computed across them.
package development
