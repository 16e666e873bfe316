// Package planned draws what to test next: what each strip would sharpen, and the first
// test of a film of which only the box is known. Begin with Proposal.
package planned
