package notebooktest

// Good is a sound notebook; the bad ones differ from it in one place.
const Good = `title = "T"
` + Film + `[process]
developer = "Brinewater"
dilution = "1+19"
temperature_c = 20.0
[exposure]
` + Contact + `
[reading]
zero = "air"
` + Strips

// GoodPaper is a sound notebook of a paper.
const GoodPaper = `kind = "paper"
title = "P"
[paper]
name = "Slate"
[exposure]
kind = "relative"
log_h = [0.0, 0.3, 0.6]
[[strip]]
base_fog = 0.06
grade = 2
density = [0.06, 0.80, 1.90]
`

// GoodControl is a sound control log; the bad ones differ from it in one place.
const GoodControl = `kind = "control"
title = "C"
minutes = "7:30"
[aim]
base_fog = 0.11
low = 0.39
high = 1.21
patches = { middle = 0.7 }
gradient = 0.5
note = "ten strips"
[limits]
low = 0.03
patches.middle = 0.04
[[strip]]
date = 2026-03-02
base_fog = 0.11
low = 0.40
high = 1.22
patches = { middle = 0.71 }
baseline = true
note = "new batch"
[[strip]]
date = "2026-03-02"
base_fog = 0.12
low = 0.38
high = 1.20
patches = { middle = 0.69 }
fresh = true
`

// GoodProcedure is a sound procedure; the bad ones differ from it in one place.
const GoodProcedure = `kind = "procedure"
title = "P"
[[step]]
name = "Develop"
minutes = "from plan"
dark = true
[[step]]
name = "Fix"
bath = "fixer"
dilution = "1+4"
minutes = "from clearing"
dark = true
[[step]]
name = "Wash"
bath = "water"
minutes = 5
dark = false
`

// The parts of Good.
const (
	Film    = "[film]\nname = \"Larkfield 125\"\nrated_speed = 125\n"
	Contact = "kind = \"contact\"\nilluminance_lx = 2.0\nseconds = 0.5\nwedge = [0.05, 0.20, 0.35]"
	Strips  = "[[strip]]\nminutes = 5.5\nbase_fog = [0.10, 0.11]\n" + Density + "\n"
	Density = "density = [\n  1.10,\n  0.80,\n  0.50,\n]"
)

// Endless is a text without end.
type Endless struct{}

// Read fills p and never fails.
func (Endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '#'
	}
	return len(p), nil
}

// Commented is a file as a person keeps it: comments everywhere, keys in an
// order of their own, other ways to write a number.
const Commented = `# top
title = "T"   # a title
[film]
name = "Tern 400"
[process]
developer = "Ashlar"
temperature_c = 20
[exposure]
kind = 'contact'
illuminance_lx = 2.0
seconds = 0.5
wedge = [0.05, 0.20, 0.35]

# the first
[[ strip ]] # here
  minutes   =  "5:30"   # by the clock
  ignore    = [3, # under the clip
               1]
  "base_fog" = [0.1, # read
    0.11 # twice
  ]
  # densities
  density   = [
    1.1,        # dense
    [0.8, 0.82], # read twice
    +5e-1, # thin
  ] # done
  next_step = 2 # to be continued
  note      = """
two lines"""

[[strip]]
minutes = 7
base_fog = 0.12
density = [1.3, 0.9, nan]
# after the last
[reciprocity]
exponent = 1.3 # from the maker
`
