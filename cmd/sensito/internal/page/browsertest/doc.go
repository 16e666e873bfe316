// Package browsertest holds the tests of the page in a real browser and under load; it has
// nothing but tests.
//
// They start the program as it is built and key into it as a person would. Without Chromium
// they are skipped, without the accessibility checker axe those that need it.
package browsertest
