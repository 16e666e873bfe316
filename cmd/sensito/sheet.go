package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/demo"
	"sensito/cmd/sensito/internal/ask"
	"sensito/cmd/sensito/internal/console"
)

// sheetOptions are the flags of sheet beside those of its question.
type sheetOptions struct {
	options
	question ask.Sheet
	written  string // file of the usual steps

	done, run          bool
	temperature, ended string
	exposedAt          float64

	given func(flag string) bool
}

func newSheetCmd(s streams) *cobra.Command {
	o := &sheetOptions{question: ask.Sheet{Made: today()}}
	cmd := &cobra.Command{
		Use:   "sheet TRIAL (--range STOPS | --shadow EV@ZONE --highlight EV@ZONE | --roll FILE | --minutes TIME)",
		Short: "Process sheet of one session: volumes, steps by the clock, and the log of what was done",
		Long: `Writes what is done at the sink: how much of every bath to mix, and the steps with
their times, the running clock, temperatures and agitation, which of them are in
the dark and when light is safe. The development time is found as scene finds it,
or chosen with --minutes. With --plot it is a page to print, in large type, with
room to write.

The steps come from a procedure, a file of [[step]]s; the one used without
--procedure is common practice: write it with --write-procedure, and make it
yours. Least concentrate for the film is that of --least or of the procedure.

With --run the sheet goes by the clock in the terminal: what remains of a step,
what comes next, a bell at each cue. A temperature of the developer that is keyed
in corrects its time, and at the end the trial's log takes what was done. The clock
runs on when the terminal is left, and --run again goes on with it. No screen is
safe for film: turn the device face down.

With --done the development that was carried out is appended to the file of the
trial: --minutes, --temperature and --ended as they were; with a scene, its time
as the one that was planned; with --procedure, the baths that are kept. sensito log
tells what was done.

A bath that is kept and says when it was mixed is counted by all logs of the folder
since then: by those developments that name it, and by those that name no bath.`,
		Example: `  sensito sheet larkfield-brinewater.toml --range 7 --films "6x 4x5in" --vessel "tray 1l"
  sensito sheet larkfield-brinewater.toml --range 7 --at 22.5 --vessel "drum 300ml, 50 turns a minute" --plot sheet.pdf
  sensito sheet larkfield-brinewater.toml --minutes 6:30 --vessel "tank 1000ml" --procedure mine.toml
  sensito sheet larkfield-brinewater.toml --range 7 --at 22.5 --films "6x 4x5in" --vessel "tank 1l" --run
  sensito sheet --write-procedure mine.toml
  sensito sheet larkfield-brinewater.toml --range 7 --done --minutes 6:40 --temperature 20.5 --films "6x 4x5in"`,
		Args: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("write-procedure") && len(args) == 0 {
				return nil
			}
			return console.OneTrial(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case o.given("write-procedure"):
				if n := cmd.Flags().NFlag(); n > 2 || n == 2 && !o.given("force") || len(args) > 0 {
					return console.Usagef("--write-procedure writes a file to edit, and nothing else: give it alone")
				}
				return s.writeProcedure(o.written, o.force)
			case o.run:
				return s.runSheet(cmd.Context(), o, args[0])
			case o.done:
				return s.logDone(o, args[0])
			}
			return s.sheet(o, args[0])
		},
	}
	o.given = cmd.Flags().Changed
	o.question.Register(cmd.Flags())
	o.register(cmd)
	o.look.register(cmd)
	f := cmd.Flags()
	f.StringVar(&o.written, "write-procedure", "", "write the usual steps to a new `FILE`, to be edited")
	f.BoolVar(&o.run, "run", false, "run the session by the clock, in the terminal")
	f.BoolVar(&o.done, "done", false, "append what was done to the file of the trial")
	f.StringVar(&o.temperature, "temperature", "", "with --done: temperature `T` of the developer at the start, 20.5 or 69F")
	f.StringVar(&o.ended, "ended", "", "with --done: temperature `T` at the end")
	f.Float64Var(&o.exposedAt, "exposure-index", 0, "with --done: exposure `INDEX` at which the films were exposed")
	return cmd
}

func (s streams) writeProcedure(path string, force bool) error {
	data, err := demo.Read(demo.Procedure)
	if err != nil {
		return err
	}
	if err := s.WriteOutput(path, data, force); err != nil {
		return err
	}
	fmt.Fprintf(s.Err, "sensito: wrote %s\n", path)
	return nil
}

func (s streams) sheet(o *sheetOptions, path string) error {
	switch {
	case o.given("page") && o.plot == "":
		return console.Usagef("--page is the size of the page that --plot FILE draws: give both")
	case o.given("temperature") || o.given("ended"):
		return console.Usagef("--temperature and --ended are of what was done: give --done too, or --at for today's temperature")
	case o.given("exposure-index"):
		return console.Usagef("--exposure-index is of what was done: give --done too")
	}
	return asked(s, &o.options, &o.question, path)
}
