// Package browsertest holds the tests of the page in a real browser and under load; it has
// nothing but tests.
//
// Begin with TestLooks. The tests start the program as it is built and key into it as a
// person would. Without Chromium they are skipped, without the accessibility checker axe
// that part of them is left out.
package browsertest
