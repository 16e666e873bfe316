// Package pagetest asks a local page as a browser without script does: it gets pages,
// fills in their forms and sends them. It is for tests.
//
// Begin with a Client.
package pagetest
