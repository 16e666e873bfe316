package main

import "sensito/sensito"

// minutesFlag reads the text of --minutes.
func minutesFlag(text string) (sensito.Minutes, error) {
	m, err := sensito.ParseMinutes(text)
	if err != nil {
		return 0, usagef("--minutes %w", err)
	}
	return m, nil
}
