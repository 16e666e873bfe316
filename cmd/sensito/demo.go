package main

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/demo"
	"sensito/cmd/sensito/internal/console"
	"sensito/sensito/notebook/store"
)

// The trials of the demo.
const (
	demoMain     = "larkfield-brinewater.toml"
	demoCamera   = "larkfield-camera.toml"
	demoShoulder = "tern-ashlar.toml"
	demoPaper    = "slate.toml"
	demoRoll     = "harbour.csv" // not a trial: the scenes of a roll
	demoPicture  = "larkfield-ashlar.png"
)

func newDemoCmd(s streams) *cobra.Command {
	var force bool
	cmd := &cobra.Command{
		Use:   "demo [DIR]",
		Short: "Write an invented notebook and do the whole job on it",
		Long: `Writes a notebook of invented trials to DIR (sensito-demo unless named), then
runs curve, family, scene, card, paper and tone on it and draws the figures
there. Where one of its files is there already it writes nothing; with --force it
replaces those, and leaves all others alone.`,
		Example: `  sensito demo
  sensito demo harrow-quay`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return console.Usagef("demo takes one folder at most; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "sensito-demo"
			if len(args) == 1 {
				dir = args[0]
			}
			return s.demo(dir, force)
		},
	}
	forceFlag(cmd.Flags(), &force)
	return cmd
}

// demo writes the notebook and runs the commands that a photographer would.
func (s streams) demo(dir string, force bool) error {
	at := func(name string) string { return filepath.Join(dir, name) }
	lines := [][]string{
		{"curve", at(demoMain), "--plot", at("curves.svg")},
		{"family", at(demoMain), "--range", "7", "--plot", at("family.svg")},
		{"scene", at(demoMain), "--range", "7", "--plot", at("scene.svg")},
		{"card", at(demoMain), "--plot", at("card.pdf")},
		{"paper", at(demoPaper), "--plot", at("paper.svg")},
		{"tone", at(demoMain), "--paper", at(demoPaper), "--grade", "2", "--range", "7", "--plot", at("tone.svg")},
		{"scene", at(demoMain), "--roll", at(demoRoll)},
		{"curve", at(demoCamera), "--plot", at("camera.svg")},
		{"scene", at(demoShoulder), "--range", "8", "--plot", at("shoulder.svg")},
	}
	var figures []string
	for i, line := range lines {
		if flag := slices.Index(line, "--plot"); flag >= 0 {
			figures = append(figures, line[flag+1])
			if force {
				lines[i] = append(line, "--force")
			}
		}
	}
	if err := s.writeDemo(dir, figures, force); err != nil {
		return err
	}
	s.Tell(`The Harrow Quay Lighthouse Trust photographs its lights on sheet film. Its
notebook, invented for this demo, is now in %s.
`, dir)
	for _, line := range lines {
		s.Tell("\n$ sensito %s\n\n", strings.Join(line, " "))
		quiet := s.Streams
		quiet.Err = new(bytes.Buffer)
		quiet.Terminal = quiet.Err
		root := newRootCmd(quiet)
		root.SetArgs(line)
		root.SetOut(s.Out)
		err := root.Execute()
		if stream := (*console.StreamError)(nil); errors.As(err, &stream) {
			return console.CutOff(fmt.Errorf("the demo broke off; run it again, with --force: %w", err))
		}
		if err != nil {
			return fmt.Errorf("sensito %s: %w", strings.Join(line, " "), err)
		}
	}
	s.Tell(`
Open:
  %s   the characteristic curves, with what was read
  %s   contrast, speed and fog against time, the chosen time marked
  %s     the card, to print and cut
  %s     from the scene to the print, in four quadrants
  %s a film that shoulders
Then:
  sensito scene %s --range 9
  sensito curve %s --strip 3 --plot strip.png
  sensito compare %s %s
  sensito plan %s --range 5 --within 3%%
  sensito control %s --trial %s
  copy one of the files, replace its readings by yours, and run the same commands
`, at("curves.svg"), at("family.svg"), at("card.pdf"), at("tone.svg"), at("shoulder.svg"), at(demoMain), at(demoMain),
		at(demoMain), at("larkfield-ashlar.toml"), at(demoMain), at("control.toml"), at(demoMain))
	return nil
}

// writeDemo writes the notebook. Unless force is given nothing is written where
// a file of the demo is there, or one of the figures that it will draw.
func (s streams) writeDemo(dir string, figures []string, force bool) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	entries, err := demo.Files().ReadDir(".")
	if err != nil {
		return err
	}
	files, there, edited := map[string][]byte{}, []string{}, []string{}
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		if files[path], err = demo.Read(e.Name()); err != nil {
			return err
		}
		if old, err := os.ReadFile(path); err == nil && !bytes.Equal(old, files[path]) {
			edited = append(edited, e.Name())
		}
	}
	paths := slices.Concat(slices.Sorted(maps.Keys(files)), figures)
	for _, path := range paths {
		err := s.Free(path, force)
		switch taken := (*store.TakenError)(nil); {
		case errors.As(err, &taken):
			there = append(there, filepath.Base(path))
		case err != nil:
			return err
		}
	}
	if len(there) > 0 {
		text := fmt.Sprintf("%s holds files of the demo already: %s", dir, strings.Join(there, ", "))
		if len(edited) > 0 {
			text += fmt.Sprintf("\nedited since, or not of the demo: %s", strings.Join(edited, ", "))
		}
		return console.WithHint(errors.New(text), "--force replaces these files and no others; or name another folder: sensito demo DIR")
	}
	for _, path := range slices.Sorted(maps.Keys(files)) {
		if err := s.WriteOutput(path, files[path], force); err != nil {
			return err
		}
	}
	return nil
}
