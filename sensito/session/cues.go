package session

import (
	"cmp"
	"slices"
	"time"
)

// Kind is what a sound tells.
type Kind string

const (
	Agitate  Kind = "agitate"
	PourOut  Kind = "pour out"
	NextBath Kind = "next bath"
	Light    Kind = "light" // it may go on
)

// Words says what a sound tells.
func (k Kind) Words() string {
	switch k {
	case Agitate:
		return "Agitate"
	case PourOut:
		return "Pour out"
	case NextBath:
		return "Next bath"
	}
	return "The light may go on"
}

// Cue is a sound ahead.
type Cue struct {
	Kind Kind
	In   time.Duration // from the time of the state
	Step int           // whose cue it is, from 1

	// Assumed says that the cue rests on hands that go on as each step ends. Whoever
	// hears of every step that is gone on to plays the others alone and asks anew then;
	// who does not, as a player in a locked phone, plays them all.
	Assumed bool
}

const (
	// lightAfter is how long after the last bath in the dark has had its time the
	// light is said to be safe, so that the sounds of both are told apart.
	lightAfter = 2 * time.Second

	// lightLater is by how much more it is where the steps before are Assumed: hands
	// may be behind the clock by then, and nobody says so.
	lightLater = 30 * time.Second

	// openAgitation is how far ahead agitation is scheduled in a step of open time.
	openAgitation = 15 * time.Minute
)

// Schedule returns the sounds ahead, in order: of the step that runs, and Assumed of
// those that come, up to one whose time is open. Nothing is scheduled once the
// session is over. That light may go on is told when the last step in the dark has
// had its time. A sound that is due is in it, with In 0; one that is past is not.
func Schedule(st State) []Cue {
	if st.Over {
		return nil
	}
	now := st.Now()
	var out []Cue
	for _, c := range st.within(now) {
		if c.In -= now.Elapsed; c.In >= 0 {
			out = append(out, c)
		}
	}
	left, known := st.Remaining()
	if !known {
		return out
	}
	at := max(left, 0) // when the next step begins, by the clock
	if st.Plan.LightFrom == now.Number+1 && left+lightAfter >= 0 {
		out = append(out, Cue{Kind: Light, In: left + lightAfter, Step: st.Plan.LightFrom})
	}
	for _, step := range st.Steps[now.Number:] {
		for _, c := range st.within(step) {
			c.In += at
			c.Assumed = true
			out = append(out, c)
		}
		if step.Lasts == 0 {
			break
		}
		at += step.Lasts
		if st.Plan.LightFrom == step.Number+1 {
			out = append(out, Cue{Kind: Light, In: at + lightAfter + lightLater, Step: st.Plan.LightFrom, Assumed: true})
		}
	}
	slices.SortStableFunc(out, func(a, b Cue) int { return cmp.Compare(a.In, b.In) })
	return out
}

// within returns the cues of a step, from when it began.
func (st State) within(s StepState) []Cue {
	cadence := ParseCadence(s.Agitation)
	if s.Lasts == 0 {
		var out []Cue
		for _, at := range cadence.starts(s.Elapsed + openAgitation) {
			out = append(out, Cue{Kind: Agitate, In: at, Step: s.Number})
		}
		return out
	}
	var out []Cue
	fillings := time.Duration(max(1, s.Changes))
	each := s.Lasts / fillings
	for i := range fillings {
		pour, end := s.pours(each), each
		if c := st.Correction; c != nil && s.Number == st.Plan.Developer && pour < c.To.In {
			// What was keyed in made the end come so soon that pouring out was due.
			pour = c.To.In
			end = max(end, pour+each-s.pours(each))
		}
		for _, at := range cadence.starts(pour) {
			out = append(out, Cue{Kind: Agitate, In: i*each + at, Step: s.Number})
		}
		if pour < end {
			out = append(out, Cue{Kind: PourOut, In: i*each + pour, Step: s.Number})
		}
		out = append(out, Cue{Kind: NextBath, In: i*each + end, Step: s.Number})
	}
	return out
}

// pours returns when a filling that lasts so long is poured out.
func (s Step) pours(each time.Duration) time.Duration {
	if d := time.Duration(s.DrainS * float64(time.Second)); d < each {
		return each - d
	}
	return each
}
