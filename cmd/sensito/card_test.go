package main

// Cards of the tests are made on one day, also those of the commands that
// scripts run, which are this program again.
func init() { today = func() string { return "2026-03-05" } }
