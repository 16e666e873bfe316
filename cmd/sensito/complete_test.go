package main

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/darkroom"
)

// TestOffers holds what is completed against the commands: it is of flags and
// commands that there are, and whatever is called a file is completed as one.
func TestOffers(t *testing.T) {
	root := newRootCmd(console.New(os.Stdin, os.Stdout, os.Stderr))
	root.InitDefaultHelpCmd()
	left := offers()
	files := 0
	for _, cmd := range root.Commands() {
		delete(left, place{cmd.Name(), ""})
		cmd.Flags().VisitAll(func(flag *pflag.Flag) {
			_, own := offers()[place{cmd.Name(), flag.Name}]
			_, any := offers()[place{"", flag.Name}]
			delete(left, place{cmd.Name(), flag.Name})
			delete(left, place{"", flag.Name})
			if name, _ := pflag.UnquoteUsage(flag); slices.Contains([]string{"FILE", "TRIAL", "LOG", "PORT"}, name) {
				files++
				assert.True(t, own || any, "%s --%s %s: nothing completes it", cmd.Name(), flag.Name, name)
			}
		})
		if strings.Contains(cmd.Use, "TRIAL") || strings.Contains(cmd.Use, "LOG") || strings.Contains(cmd.Use, "FILE") {
			assert.Contains(t, offers(), place{cmd.Name(), ""}, "the arguments of %s", cmd.Name())
		}
	}
	assert.Empty(t, left, "places that there are not")
	assert.Greater(t, files, 20, "flags that name files")
}

// TestOffered has the words and units that are offered read by what reads them.
func TestOffered(t *testing.T) {
	offered := func(flag, typed string) []string {
		words, _ := offers()[place{"", flag}](&cobra.Command{}, nil, typed)
		require.NotEmpty(t, words, flag)
		return words
	}
	reads := func(flag, typed string, read func(text string) error) {
		for _, w := range offered(flag, typed) {
			assert.NoError(t, read(w), "--%s %s", flag, w)
		}
	}
	reads("total", "600", func(text string) error { _, _, err := darkroom.ParseVolume(text); return err })
	reads("at", "20", func(text string) error {
		if strings.HasSuffix(text, "F") {
			text = "68F"
		}
		_, err := sensito.ParseTemperature(text)
		return err
	})
	reads("width", "84", func(text string) error { _, err := length(text); return err })
	reads("within", "5", func(text string) error { _, err := ask.ParseWithin(text); return err })
	reads("films", "", func(text string) error { _, err := sensito.ParseFilms(text); return err })
	reads("vessel", "", func(text string) error { _, err := darkroom.ParseVessel(text + " 1l"); return err })
	reads("uses", "", func(text string) error { _, err := darkroom.ParseUses(text); return err })
	reads("flare", "", func(text string) error {
		if strings.HasSuffix(text, "=") {
			text += "0.01"
		}
		_, err := ask.ParseFlare(text)
		return err
	})
	for _, name := range ask.PageNames(plot.SheetPages()) {
		_, err := plot.SheetPageNamed(name)
		assert.NoError(t, err)
	}
}
