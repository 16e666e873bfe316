package main

import (
	"runtime/debug"
	"strings"
)

// released is what a release says of itself, by -ldflags -X of version, commit and
// date; empty in other builds.
var released = build{version, commit, date, false}

var version, commit, date string

// A build says what a program was built from.
type build struct {
	version string // "1.2.0"; "" for none
	commit  string
	date    string // of the commit, as 2026-03-01
	changed bool   // files differed from the commit
}

// builtFrom returns what the Go tool wrote into the program.
func builtFrom() build {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return build{}
	}
	return buildOf(info)
}

func buildOf(info *debug.BuildInfo) build {
	var b build
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.commit = s.Value
		case "vcs.time":
			b.date, _, _ = strings.Cut(s.Value, "T")
		case "vcs.modified":
			b.changed = s.Value == "true"
		}
	}
	// A version that is made of the commit says no more than that.
	v := strings.TrimPrefix(info.Main.Version, "v")
	if v != "(devel)" && (b.commit == "" || !strings.Contains(v, brief(b.commit))) {
		b.version, _, _ = strings.Cut(v, "+dirty")
	}
	return b
}

// brief returns the first twelve digits of a commit, as many as Go writes.
func brief(commit string) string { return commit[:min(12, len(commit))] }

// versionText returns the line that --version prints.
func versionText(released, built build) string {
	b := built
	if released.version != "" {
		b = released
	}
	told := []string{}
	if b.commit != "" {
		told = append(told, "commit "+brief(b.commit))
	}
	if b.date != "" {
		told = append(told, b.date)
	}
	if b.changed {
		told = append(told, "changed since")
	}
	text := "sensito"
	if b.version == "" {
		told = append([]string{"development"}, told...)
	} else {
		text += " " + b.version
	}
	if len(told) > 0 {
		text += " (" + strings.Join(told, ", ") + ")"
	}
	return text
}
