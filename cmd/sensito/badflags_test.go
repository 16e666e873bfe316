package main

import (
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/cmd/sensito/internal/console"
)

// badLines are command lines that cannot be carried out, in the folder of the
// demo, and the one line that says why.
var badLines = []struct{ line, want string }{
	{`development`, `"development" is not a command; see: sensito --help`},
	{`--colour`, `unknown flag: --colour; see: sensito --help`},
	{`curve`, `curve takes one trial or more (files, folders, or - for standard input)`},
	{`curve larkfield-camera.toml --colour`, `unknown flag: --colour; see: sensito curve --help`},
	{`curve larkfield-camera.toml --strip 0`, `--strip 0 is below 1`},
	{`curve larkfield-camera.toml --triangle`, `--triangle has no use without --plot`},
	{`curve larkfield-camera.toml --triangle --plot curve.svg`, `--triangle is drawn on one strip of 3: name it with --strip`},
	{`curve larkfield-camera.toml --strip 9`, `--strip 9 is outside 1 to 3`},
	{`curve larkfield-camera.toml --strip two`, `--strip "two" is not a whole number; see: sensito curve --help`},
	{`curve larkfield-camera.toml --strip 1.5`, `--strip "1.5" is not a whole number; see: sensito curve --help`},
	{`curve larkfield-camera.toml --plot`, `flag needs an argument: --plot; see: sensito curve --help`},
	{`curve larkfield-camera.toml --plot curve.gif`, `curve.gif: ".gif" is not an ending for a figure; use .svg, .png, .pdf or .csv`},
	{`curve larkfield-camera.toml --plot curve`, `curve: "" is not an ending for a figure; use .svg, .png, .pdf or .csv`},
	{`curve . --plot curve.svg`, `--plot draws one trial; 5 given`},
	{`curve larkfield-camera.toml -`, `standard input is one trial and goes alone`},
	{`curve larkfield-camera.toml --confidence 95`, `--confidence 95 is outside 0.5 to 0.999`},
	{`curve larkfield-camera.toml --confidence 95%`, `--confidence "95%" is not a number; see: sensito curve --help`},
	{`curve larkfield-camera.toml --confidence 1`, `--confidence 1 is outside 0.5 to 0.999`},
	{`curve larkfield-camera.toml --sd-from guess`, `--sd-from "guess" is neither scatter nor repeatability`},
	{`curve larkfield-camera.toml --gradient-from 0`, `--gradient-from 0 is outside 0.01 to 4`},
	{`curve larkfield-camera.toml --gradient-span 9`, `--gradient-span 9 is outside 0.1 to 5`},
	{`curve larkfield-camera.toml --gradient-to 0.05`, `--gradient-to 0.05 is outside 0.2 to 6`},
	{`curve larkfield-camera.toml --gradient-to 1.2 --gradient-arc`, `--gradient-to takes the place of --gradient-span and --gradient-arc: give one of them`},
	{`curve larkfield-camera.toml --json=maybe`, `--json "maybe" is not true or false; see: sensito curve --help`},
	{`family`, `family takes one trial (a file, a folder with one, or - for standard input); 0 given`},
	{`family larkfield-camera.toml tern-ashlar.toml`, `family takes one trial (a file, a folder with one, or - for standard input); 2 given`},
	{`family .`, `. holds 5 trials of film: name one, larkfield-ashlar.toml, larkfield-brinewater.toml, larkfield-camera.toml, larkfield-meter.toml, tern-ashlar.toml`},
	{`family larkfield-camera.toml --correct`, `--correct needs --control LOG, the log that it corrects by`},
	{`family larkfield-camera.toml --control`, `flag needs an argument: --control; see: sensito family --help`},
	{`scene`, `scene takes one trial (a file, a folder with one, or - for standard input); 0 given`},
	{`scene larkfield-camera.toml`, `scene needs --range STOPS, the range of the scene (a normal one has 7), or --shadow EV@ZONE and --highlight EV@ZONE, or --roll FILE`},
	{`scene larkfield-camera.toml --range wide`, `--range "wide" is not a number; see: sensito scene --help`},
	{`scene larkfield-camera.toml --range 7stops`, `--range "7stops" is not a number; see: sensito scene --help`},
	{`scene larkfield-camera.toml --range 0,5`, `--range "0,5" is not a number, which is written with a decimal point; see: sensito scene --help`},
	{`scene larkfield-camera.toml --range -6..3`, `--range "-6..3" is from one tone to another: write the stops between them, 9, and --shadow-stops 6 where the darkest lies 6 below the metered tone; see: sensito scene --help`},
	{`scene larkfield-camera.toml --range −6…+1.5`, `--range "−6…+1.5" is from one tone to another: write the stops between them, 7.5, and --shadow-stops 6 where the darkest lies 6 below the metered tone; see: sensito scene --help`},
	{`tone larkfield-camera.toml --range 5..13`, `--range "5..13" is from one tone to another: write the stops between them, 8; see: sensito tone --help`},
	{`scene larkfield-camera.toml --range 3to3`, `--range "3to3" is not a number; see: sensito scene --help`},
	{`scene larkfield-camera.toml --range 0`, `scene range in stops 0 is outside 1 to 20`},
	{`scene larkfield-camera.toml --range nan`, `scene range in stops NaN is outside 1 to 20`},
	{`scene larkfield-camera.toml --range 21`, `scene range in stops 21 is outside 1 to 20`},
	{`scene larkfield-camera.toml --range 7 --shadow 8@III`, `--range, --shadow with --highlight, and --roll exclude each other: give one of them`},
	{`scene larkfield-camera.toml --shadow 8@III`, `--shadow and --highlight go together: give both`},
	{`scene larkfield-camera.toml --shadow 8 --highlight 13@VIII`, `--shadow "8" is not a meter reading on a zone, like 8@III or 10 1/3@VIII`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@XI`, `--highlight "13@XI": "XI" is not a zone from 0 to X, like III, III.5 or 3`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13VIII`, `--highlight "13VIII" is not a meter reading on a zone, like 8@III or 10 1/3@VIII`},
	{`scene larkfield-camera.toml --shadow 13@III --highlight 8@VIII`, `the highlight at EV 8 reads no brighter than the shadow at EV 13`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --aperture wide`, `--aperture "wide" is not an aperture like 16, f/16 or f/11 1/3`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --aperture 0`, `--aperture "0": an aperture of f/0 is outside f/0.5 to f/1000`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --time 5:75`, `--time "5:75" is not a time like 1/60, 2, 1m30s or 1:30`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --time 1/0`, `--time "1/0" is not a time like 1/60, 2, 1m30s or 1:30`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --time fast`, `--time "fast" is not a time like 1/60, 2, 1m30s or 1:30`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --time 1/60 --aperture 8`, `--aperture and --time exclude each other: give one of them`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --filter 2x`, `--filter, --extension and --focal need --aperture or --time`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --aperture 8 --filter red`, `--filter "red" is not a factor like 2x, factor 2.5 or +1 1/3 stops`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --aperture 8 --filter 2`, `--filter "2" may be a factor or stops; write 2x or +2 stops`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --aperture 8 --extension 300`, `--extension and --focal go together: give both`},
	{`scene larkfield-camera.toml --shadow 8@III --highlight 13@VIII --meter-index 0`, `--meter-index: meter index 0 is outside 0.01 to 1e+06`},
	{`scene larkfield-camera.toml --range 7 --meter-index 100`, `--meter-index goes with spot readings: --shadow and --highlight, or those of --roll`},
	{`scene larkfield-camera.toml --range 7 --roll harbour.csv`, `--range, --shadow with --highlight, and --roll exclude each other: give one of them`},
	{`scene larkfield-camera.toml --roll`, `flag needs an argument: --roll; see: sensito scene --help`},
	{`scene - --roll -`, `standard input is one file: only one of the trial, --paper and --roll can be -`},
	{`scene larkfield-camera.toml --range 7 --density-range 0`, `--density-range 0 is outside 0.2 to 3`},
	{`scene larkfield-camera.toml --range 7 --density-range 9`, `density range 9 is outside 0.2 to 3`},
	{`scene larkfield-camera.toml --range 7 --density-range 1.05 --scan 2`, `--density-range and --scan exclude each other: give one of them`},
	{`scene larkfield-camera.toml --range 7 --grade 9`, `--grade "9" is not a grade from 0 to 5; a filter needs its --paper TRIAL`},
	{`scene larkfield-camera.toml --range 7 --grade 2 --density-range 1.2`, `--grade and --density-range exclude each other: give one of them`},
	{`scene larkfield-camera.toml --range 7 --flare veil`, `--flare "veil" is not fixed, fixed=LOSS or veil=FRACTION, both above 0, or none`},
	{`scene larkfield-camera.toml --range 7 --flare veil=1%`, `--flare "veil=1%" is not fixed, fixed=LOSS or veil=FRACTION, both above 0, or none`},
	{`scene larkfield-camera.toml --range 7 --flare fog=0.1`, `--flare "fog=0.1" is not fixed, fixed=LOSS or veil=FRACTION, both above 0, or none`},
	{`scene larkfield-camera.toml --range 7 --flare veil=0.9`, `flare veil 0.9 is outside 0 to 0.5`},
	{`scene larkfield-camera.toml --range 7 --enlarger point`, `--enlarger "point" is neither diffusion nor condenser`},
	{`scene larkfield-camera.toml --range 7 --callier 1.3`, `--callier goes with --enlarger condenser`},
	{`scene larkfield-camera.toml --range 7 --enlarger condenser --callier 0`, `--callier 0 is outside 1 to 2`},
	{`scene larkfield-camera.toml --range 7 --shadow-stops 11`, `shadow stops 11 is outside 1 to 10`},
	{`scene larkfield-camera.toml --range 7 --paper`, `flag needs an argument: --paper; see: sensito scene --help`},
	{`scene - --range 7 --paper -`, `standard input is one trial: name a file for the film or for --paper`},
	{`card`, `card takes one trial (a file, a folder with one, or - for standard input); 0 given`},
	{`picture`, `picture takes one picture, or several of the same strips`},
	{`picture larkfield-ashlar.png larkfield-ashlar.png`, `larkfield-ashlar.png: a picture is a file of its own, each given once`},
	{`picture - --steps 21`, `-: a picture is a file of its own, each given once`},
	{`picture larkfield-ashlar.png`, `picture needs --steps N, the steps of a strip`},
	{`picture larkfield-ashlar.png --steps 3`, `--steps 3 is outside 5 to 200`},
	{`picture larkfield-ashlar.png --steps 21 --ends 33,34`, `--ends "33,34" is not two ends like 412,300:2890,318: the outer edge of the first step, and of the last`},
	{`picture larkfield-ashlar.png --steps 21 --ends 33,34:427,38 --fog edge`, `--fog "edge" is not a place like 412,300, pixels from the left and from the top, nor a step like step=22`},
	{`picture larkfield-ashlar.png --steps 21 --ends 33,34:427,38 --anchor 21`, `--anchor "21" is not a step and its density like 21=0.11`},
	{`picture larkfield-ashlar.png --steps 21 --channel infrared`, `--channel "infrared" is not one of red, green, blue, grey`},
	{`picture larkfield-ashlar.png --tablet tablet.toml --encoding gamma`, `--encoding "gamma" is not one of auto, linear, srgb, nor an exponent from 0.2 to 5`},
	{`picture larkfield-ashlar.png --steps 21 --scale-sd 0.01`, `--scale-sd has no use without --tablet FILE`},
	{`picture larkfield-ashlar.png --tablet tablet.toml --by tablet.toml`, `--tablet and --by exclude each other: give one of them`},
	{`picture larkfield-ashlar.png --steps 21 --minutes 8 --minutes 9 --ends 33,34:427,38`, `--ends marks 1 strip, and 2 are told by --minutes or --grade`},
	{`picture larkfield-ashlar.png --into larkfield-ashlar.toml`, `--into needs --minutes M:SS, the development time of each strip`},
	{`picture larkfield-ashlar.png --into larkfield-ashlar.toml --minutes 8 --grade 2`, `--grade is of paper, and larkfield-ashlar.toml is a film`},
	{`picture larkfield-ashlar.png --into larkfield-ashlar.toml --minutes 8 --steps 20`, `--steps 20: larkfield-ashlar.toml has 21 exposures, one a step`},
	{`picture larkfield-ashlar.png --into slate.toml --grade 2 --tablet tablet.toml`, `slate.toml is a paper, read by light that comes back, which needs a grey scale on paper: one whose [tablet] says geometry = "45/0"`},
	{`picture larkfield-ashlar.png --steps 21 --plot seen.gif`, `seen.gif: ".gif" is not an ending for a figure; use .svg, .png, .pdf or .csv`},
	{`card larkfield-camera.toml --page poster`, `--page is the size of the page that --plot FILE draws: give both`},
	{`paper`, `paper takes one trial (a file, a folder with one, or - for standard input); 0 given`},
	{`paper slate.toml --callier 3`, `--callier 3 is outside 1 to 2`},
	{`tone larkfield-camera.toml --range 7`, `tone needs --paper TRIAL, the curve of the paper: a grade of the published table has none`},
	{`tone larkfield-camera.toml --paper slate.toml`, `tone needs --range STOPS, the range of the scene (a normal one has 7)`},
	{`compare larkfield-camera.toml`, `compare takes two trials or more (files, folders, or - for standard input); 1 given`},
	{`compare larkfield-camera.toml tern-ashlar.toml --gradient 0`, `--gradient 0 is outside 0.2 to 2`},
	{`compare larkfield-camera.toml tern-ashlar.toml --figure gradient`, `--figure picks a drawing: give --plot FILE too`},
	{`compare larkfield-camera.toml tern-ashlar.toml --figure all --plot a.svg`, `--figure "all" is not one of differences, tones, aligned, gradient, curves, time, speed`},
	{`compare - -`, `standard input is one trial: name files for the others`},
	{`control`, `control takes one log (a file, a folder with one, or - for standard input); 0 given`},
	{`control control.toml --rules own`, `--rules "own" is not one of limits, western-electric, nelson`},
	{`control control.toml --chart pareto`, `--chart "pareto" is not one of individuals, moving_range, ewma, cusum`},
	{`control control.toml --baseline 3`, `--baseline 3 is fewer than 8 strips, too few for limits`},
	{`control control.toml --add`, `--add needs --date, --base-fog, --low, --high; without it: --date, --base-fog, --low, --high`},
	{`control control.toml --add --date 2026-06-08 --low 0.4`, `--add needs --date, --base-fog, --low, --high; without it: --base-fog, --high`},
	{`control control.toml --low 0.4`, `--low is of a strip that is added: give --add too`},
	{`control control.toml --note late`, `--note is of a strip that is added: give --add too`},
	{`control control.toml --add --date tomorrow --base-fog 0.12 --low 0.38 --high 1.21`, `--date "tomorrow" is not a date like 2026-03-01`},
	{`control control.toml --add --date 2026-03-02 --base-fog 0.12 --low 0.38 --high 1.21`, `--date 2026-03-02 after 2026-06-04 runs backwards; a strip is appended at the end of the log`},
	{`control control.toml --add --date 2026-06-08 --base-fog 0.12 --low 1.21 --high 0.38`, `--low 1.21 is not below high, 0.38; were the patches exchanged?`},
	{`control control.toml --add --date 2026-06-08 --base-fog 0.38 --low 0.12 --high 1.21`, `--low 0.12 is below base_fog, 0.38; were the two exchanged?`},
	{`control control.toml --add --date 2026-06-08 --base-fog 0.12 --low 0.38 --high NaN`, `--high NaN is outside 0 to 6`},
	{`control control.toml --add --date 2026-06-08 --base-fog 0.12 --low 0.38 --high 1.21 --patch middle=0.7`, `--patch middle: is a patch that the first strip does not have`},
	{`control control.toml --add --date 2026-06-08 --base-fog 0.12 --low 0.38 --high 1.21 --patch 0.7`, `--patch "0.7" is not a patch like middle=0.71`},
	{`control - --add --date 2026-06-08 --base-fog 0.12 --low 0.38 --high 1.21`, `--add writes into the file of the log: name it`},
	{`control - --trial -`, `the log and the trial cannot both come from standard input`},
	{`plan`, `plan needs a trial, or --film NAME --speed S --minutes M for a first test`},
	{`plan larkfield-camera.toml`, `plan needs --range STOPS, the range of the scene (a normal one has 7)`},
	{`plan larkfield-camera.toml --range 7 --within 5`, `--within "5" is not a share like 5%, or stops like 0.1stops, above zero`},
	{`plan larkfield-camera.toml --range 7 --within 0%`, `--within "0%" is not a share like 5%, or stops like 0.1stops, above zero`},
	{`plan larkfield-camera.toml --range 7 --wanted speed`, `--wanted "speed" is neither time nor ei`},
	{`plan larkfield-camera.toml --range 7 --strips 0`, `--strips 0 is outside 1 to 12`},
	{`plan larkfield-camera.toml --range 7 --film Tern`, `--film does not go with a trial`},
	{`plan --film Tern --speed 400`, `plan needs a trial, or --film NAME --speed S --minutes M for a first test`},
	{`plan --film Tern --speed 0 --minutes 9`, `speed 0 is outside 0.01 to 1e+06`},
	{`plan --film Tern --speed 400 --minutes 5:75`, `--minutes "5:75" is not a time like 6:30 or 6.5 minutes`},
	{`plan --film Tern --speed 400 --minutes 5.30`, `--minutes "5.30" can be 5:30 or 5.3 minutes; write 5:30 or 5.3`},
	{`enter larkfield-camera.toml --minutes 5.30`, `--minutes "5.30" can be 5:30 or 5.3 minutes; write 5:30 or 5.3`},
	{`enter larkfield-camera.toml --minutes 5,30`, `--minutes "5,30" can be 5:30 or 5.3 minutes; write 5:30 or 5.3`},
	{`sheet larkfield-camera.toml --minutes 10.50`, `--minutes "10.50" can be 10:50 or 10.5 minutes; write 10:50 or 10.5`},
	{`sheet larkfield-camera.toml --done --minutes 5.10`, `--minutes "5.10" can be 5:10 or 5.1 minutes; write 5:10 or 5.1`},
	{`plan --film Tern --speed 400 --minutes 9 --way sun`, `way of exposing "sun" is neither contact nor camera`},
	{`plan --film Tern --speed 400 --minutes 9 --agitation rotary`, `process.agitation: "rotary" is not continuous, intermittent or none`},
	{`plan --film Tern --speed 400 --minutes 9 --temperature 68`, `process.temperature_c: 68 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20`},
	{`ls harbour.csv`, `harbour.csv is a file, and ls lists a folder`},
	{`ls a b`, `ls takes one folder at most; 2 given`},
	{`demo a b`, `demo takes one folder at most; 2 given`},
	{`scene larkfield-camera.toml --range 7 --at 32F`, `--at "32F": temperature 0 °C is outside 1 to 60 °C`},
	{`scene larkfield-camera.toml --range 7 --at 0`, `--at "0": temperature 0 °C is outside 1 to 60 °C`},
	{`card larkfield-camera.toml --at 20 --ends-at 0`, `--ends-at "0": temperature 0 °C is outside 1 to 60 °C`},
	{`sheet larkfield-camera.toml --minutes 6:30 --at 20 --ends-at 32F`, `--ends-at "32F": temperature 0 °C is outside 1 to 60 °C`},
	{`sheet larkfield-camera.toml --minutes 6:30 --done --temperature 0`, `--temperature "0": temperature 0 °C is outside 1 to 60 °C`},
	{`sheet larkfield-camera.toml --minutes 6:30 --done --ended 32F`, `--ended "32F": temperature 0 °C is outside 1 to 60 °C`},
	{`scene larkfield-camera.toml --range 7 --at 22 --q10 0`, `--q10 0 is outside 1.1 to 6; it is the rate at 30 over that at 20 degrees C`},
	{`card larkfield-camera.toml --at 22 --q10 -2`, `--q10 -2 is outside 1.1 to 6; it is the rate at 30 over that at 20 degrees C`},
	{`compare larkfield-camera.toml larkfield-ashlar.toml --at 22 --q10 nan`, `--q10 NaN is outside 1.1 to 6; it is the rate at 30 over that at 20 degrees C`},
	{`scene larkfield-camera.toml --range 7 --at 22 --q10 2 --q10-sd 0`, `--q10-sd 0 is outside its limits, above 0 and at most 1, half of --q10`},
	{`plan larkfield-camera.toml --range 7 --at 22 --q10 2 --q10-sd -0.2`, `--q10-sd -0.2 is outside its limits, above 0 and at most 1, half of --q10`},
	{`compare larkfield-camera.toml larkfield-ashlar.toml --at 22 --q10 2 --q10-sd 1.5`, `--q10-sd 1.5 is outside its limits, above 0 and at most 1, half of --q10`},
	{`scene larkfield-camera.toml --range 7 --at 22 --q10-sd 0.2`, `--q10-sd goes with --q10, the coefficient it is of`},
	{`curve larkfield-camera.toml --gradient-to 0`, `--gradient-to 0 is outside 0.2 to 6`},
	{`curve larkfield-camera.toml --gradient-to 1.2 --gradient-span 1.5`, `--gradient-to takes the place of --gradient-span and --gradient-arc: give one of them`},
	{`family larkfield-camera.toml --range 0 --plot a.svg`, `scene range in stops 0 is outside 1 to 20`},
	{`family larkfield-camera.toml --density-range 1.2`, `--density-range has no use without --range STOPS, the scene that is marked`},
	{`export larkfield-camera.toml --density-range 1.2`, `--density-range has no use without --what curves, family or card`},
	{`export larkfield-camera.toml --what curves --density-range 1.2`, `--density-range has no use without --what card`},
	{`export larkfield-camera.toml --what curves --gradient-to 0`, `--gradient-to 0 is outside 0.2 to 6`},
	{`plan --film Tern --speed 400 --minutes 9 --lux 0`, `--lux 0 is outside 0.0001 to 1e+06`},
	{`curve larkfield-camera.toml --plot=`, `--plot must not be empty`},
	{`scene larkfield-camera.toml --range 7 --control=`, `--control must not be empty`},
	{`scene larkfield-camera.toml --range 1e999`, `--range "1e999" is too large; see: sensito scene --help`},
	{`enter new.toml --film F --speed 100 --developer D --lux 2 --seconds 1 --minutes 9 --wedge-first 68`, `--wedge-first 68 is outside 0 to 6`},
	{`enter new.toml --film F --speed 100 --developer D --lux 2 --seconds 1 --minutes 9 --wedge-step 1.5`, `--wedge-step puts the last step at density 30.05, outside 0 to 6; a wedge read from its dense end has a negative step`},
	{`enter new.toml --film F --speed 100 --developer D --lux 2 --seconds 1 --minutes 9 --wedge-count 2.5`, `--wedge-count must be a whole number, not 2.5`},
	{`scene larkfield-camera.toml --range 5:30`, `--range "5:30" is not a number; 5:30 is written 5.5; see: sensito scene --help`},
}

func TestBadFlags(t *testing.T) {
	require.GreaterOrEqual(t, len(badLines), 124)
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	t.Chdir(dir)
	for _, c := range badLines {
		t.Run(c.line, func(t *testing.T) {
			var out, errOut strings.Builder
			code := run(strings.Fields(c.line), strings.NewReader(""), &out, &errOut)
			assert.Equal(t, console.ExitUsage, code)
			assert.Equal(t, "sensito: "+c.want+"\n", errOut.String())
			assert.Empty(t, out.String())
		})
	}
	noFigure(t, dir)
}

// An empty argument and one of two lines cannot be written in a line of badLines.
func TestBadArguments(t *testing.T) {
	for want, args := range map[string][]string{
		"argument 1 of curve is empty":              {"curve", ""},
		"argument 2 of compare is empty":            {"compare", "a.toml", ""},
		"argument 1 of mix is empty":                {"mix", ""},
		`open a\nb.toml: no such file or directory`: {"curve", "a\nb.toml"},
	} {
		var out, errOut strings.Builder
		assert.NotEqual(t, console.ExitDone, run(args, strings.NewReader(""), &out, &errOut))
		assert.Equal(t, "sensito: "+want+"\n", errOut.String())
	}
}

// noFigure fails where a figure was left in a folder.
func noFigure(t *testing.T, dir string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		assert.False(t, strings.Contains(e.Name(), "figure") || strings.HasSuffix(e.Name(), ".svg"), e.Name())
	}
}

// failures are command lines of every command that draws, one each that fails as
// late as it can: the data cannot answer, or a file that is read last is faulty.
var failures = map[string]string{
	"curve":   "curve few.toml",
	"family":  "family few.toml",
	"scene":   "scene larkfield-camera.toml --range 3",
	"card":    "card few.toml",
	"paper":   "paper slate.toml --grade 9",
	"tone":    "tone larkfield-camera.toml --paper slate.toml --grade 00 --range 3",
	"compare": "compare larkfield-camera.toml few.toml",
	"control": "control control.toml --trial few.toml",
	"plan":    "plan few.toml --range 7",
	"sheet":   "sheet few.toml --range 7",
	"log":     "log slate.toml",
	"picture": "picture larkfield-ashlar.png --tablet tablet.toml --tablet-ends 33,90:427,95 --ends 427,38:33,34 --into larkfield-ashlar.toml --minutes 8",
}

const fewReadings = `[film]
name = "Tern 400"
[exposure]
kind = "contact"
illuminance_lx = 2
seconds = 1
wedge = [1.0, 1.3, 1.6, 1.9]
[[strip]]
minutes = 8
density = [1.21, 1.10, 0.97, 0.86]
`

// No command leaves a figure, or part of one, when it fails; an old one stays as
// it was.
func TestNoFigureOnFailure(t *testing.T) {
	if testing.Short() {
		t.Skip("slow under the race detector, and nothing in it runs side by side")
	}
	dir := t.TempDir()
	require.NoError(t, writeNotebook(dir))
	t.Chdir(dir)
	require.NoError(t, os.WriteFile("few.toml", []byte(fewReadings), 0o600))
	const old = "kept.svg"
	var drawing []string
	for _, cmd := range newRootCmd(console.Streams{}).Commands() {
		if cmd.Flags().Lookup("plot") != nil {
			drawing = append(drawing, cmd.Name())
		}
	}
	require.NotEmpty(t, drawing)
	for _, name := range drawing {
		t.Run(name, func(t *testing.T) {
			line, known := failures[name]
			require.True(t, known, "a row for the command is missing")
			for _, figure := range []string{"figure.svg", "figure.pdf", "figure.png", old} {
				require.NoError(t, os.WriteFile(old, []byte("old"), 0o600))
				var out, errOut strings.Builder
				args := append(strings.Fields(line), "--plot", figure)
				assert.Equal(t, console.ExitData, run(args, strings.NewReader(""), &out, &errOut), errOut.String())
				assert.Empty(t, out.String())
				assert.NotEmpty(t, errOut.String())
				text, err := os.ReadFile(old)
				require.NoError(t, err)
				assert.Equal(t, "old", string(text))
				require.NoError(t, os.Remove(old))
				noFigure(t, dir)
			}
			// Nor does one that succeeds replace a file, unless that is asked for.
			require.NoError(t, os.WriteFile(old, []byte("old"), 0o600))
			var said strings.Builder
			assert.Equal(t, console.ExitData, run(append(strings.Fields(goodLines[name]), "--plot", old), strings.NewReader(""), &said, &said))
			assert.Equal(t, "sensito: kept.svg is there already: name another file\nsensito: hint: --force replaces it\n", said.String())
			assert.Equal(t, console.ExitDone, run(append(strings.Fields(goodLines[name]), "--plot", old, "--force"), strings.NewReader(""), io.Discard, &said), said.String())
			text, err := os.ReadFile(old)
			require.NoError(t, err)
			assert.Contains(t, string(text), "</svg>")
			require.NoError(t, os.Remove(old))

			// Nor where the figure itself cannot be written.
			var out, errOut strings.Builder
			good := goodLines[name]
			assert.Equal(t, console.ExitData, run(append(strings.Fields(good), "--plot", "missing/figure.svg"), strings.NewReader(""), &out, &errOut))
			assert.Empty(t, out.String())
			assert.Equal(t, "sensito: missing/figure.svg: there is no folder missing\n", errOut.String())
		})
	}
}

// goodLines are command lines that succeed.
var goodLines = map[string]string{
	"curve":   "curve larkfield-camera.toml",
	"log":     "log .",
	"family":  "family larkfield-camera.toml",
	"scene":   "scene larkfield-camera.toml --range 7",
	"card":    "card larkfield-camera.toml",
	"paper":   "paper slate.toml --grade 2",
	"tone":    "tone larkfield-camera.toml --paper slate.toml --grade 2 --range 7",
	"compare": "compare larkfield-camera.toml larkfield-ashlar.toml",
	"control": "control control.toml",
	"plan":    "plan larkfield-camera.toml --range 7",
	"sheet":   "sheet larkfield-camera.toml --minutes 6:30",
	"picture": "picture larkfield-ashlar.png --steps 21 --ends 33,34:427,38",
}
