package main

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestVersionText(t *testing.T) {
	const commit = "5fed247c01d2a7c1b04c7d3d1ea4b0c8d6a1b2c3"
	at := func(version string, settings ...debug.BuildSetting) build {
		return buildOf(&debug.BuildInfo{Main: debug.Module{Version: version}, Settings: settings})
	}
	revision := debug.BuildSetting{Key: "vcs.revision", Value: commit}
	time := debug.BuildSetting{Key: "vcs.time", Value: "2026-11-28T10:02:03Z"}
	clean, dirty := debug.BuildSetting{Key: "vcs.modified", Value: "false"}, debug.BuildSetting{Key: "vcs.modified", Value: "true"}
	for _, c := range []struct {
		name            string
		released, built build
		want            string
	}{
		{"nothing known", build{}, build{}, "sensito (development)"},
		{"go run", build{}, at("(devel)"), "sensito (development)"},
		{"go build", build{}, at("v0.0.0-20261128100203-5fed247c01d2", revision, time, clean), "sensito (development, commit 5fed247c01d2, 2026-11-28)"},
		{"go build of changed files", build{}, at("v0.0.0-20261128100203-5fed247c01d2+dirty", revision, time, dirty),
			"sensito (development, commit 5fed247c01d2, 2026-11-28, changed since)"},
		{"go build at a tag", build{}, at("v1.2.0", revision, time, clean), "sensito 1.2.0 (commit 5fed247c01d2, 2026-11-28)"},
		{"go build of changed files at a tag", build{}, at("v1.2.0+dirty", revision, time, dirty), "sensito 1.2.0 (commit 5fed247c01d2, 2026-11-28, changed since)"},
		{"go install of a version", build{}, at("v1.2.0"), "sensito 1.2.0"},
		{"go install of a commit", build{}, at("v0.0.0-20261128100203-5fed247c01d2"), "sensito 0.0.0-20261128100203-5fed247c01d2"},
		{"a release", build{version: "1.2.0", commit: commit, date: "2026-11-28"}, at("(devel)"), "sensito 1.2.0 (commit 5fed247c01d2, 2026-11-28)"},
	} {
		assert.Equal(t, c.want, versionText(c.released, c.built), c.name)
	}
}
