// Package scene is the answer to a scene: where its tones land on the film, flare
// included, which exposure index to set and how long to develop for a paper, what
// the negative and the print will have, on a card or for a whole roll, and for the
// process of today.
//
// Begin with For, which makes an Answer for a Scene from a family of strips.
package scene
