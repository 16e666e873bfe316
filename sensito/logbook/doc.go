// Package logbook says what was developed, and when: the films that the logs of trials
// tell of, the strips of trials that say their date, and control strips. Begin with New.
package logbook
