// Package trialfile reads what a file says of a trial, strip by strip, and notes
// every fault.
//
// Begin with Trial.
package trialfile
