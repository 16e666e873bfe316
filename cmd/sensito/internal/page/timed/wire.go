package timed

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"time"

	"sensito/sensito/session"
)

// wire is a session for a script, which goes by it also while nobody answers: the step
// that runs and those to come. Times are in milliseconds, within a step from when it
// began.
type wire struct {
	Number  int        `json:"number"`
	Elapsed int64      `json:"elapsed"` // of the step that runs
	Steps   []wireStep `json:"steps"`
}

type wireStep struct {
	Label  string       `json:"step"`
	Light  string       `json:"light"`
	Means  string       `json:"means"`
	Dark   bool         `json:"dark"`
	Lasts  int64        `json:"lasts"`  // 0 for an open time
	Cues   [][2]any     `json:"cues"`   // time and kind
	Sounds [][3]float64 `json:"sounds"` // of them: start and length in seconds, and hertz
	Says   [][3]any     `json:"says"`   // from when, what; {} in it stands for the time until the third
}

// wired returns a session for a script, at a time.
func wired(s *session.Session, at time.Time) string {
	st := s.At(at)
	w := wire{Number: st.Number, Elapsed: st.Now().Elapsed.Milliseconds()}
	for !s.Over() {
		w.Steps = append(w.Steps, wireOf(s.At(at)))
		e, err := s.Act(session.Act{Do: session.DoNext, After: s.Number()}, at)
		if err != nil {
			break
		}
		if s, err = s.With(e); err != nil {
			break
		}
	}
	text, err := json.Marshal(w)
	if err != nil { // of strings and numbers
		return "{}"
	}
	return string(text)
}

// wireOf returns the step that runs.
func wireOf(st session.State) wireStep {
	now := st.Now()
	x := wireStep{Label: now.Label(), Light: st.LightWord(), Means: st.LightText(), Dark: st.Dark(), Lasts: now.Lasts.Milliseconds(), Cues: [][2]any{}, Sounds: [][3]float64{}, Says: said(st)}
	for _, c := range session.Schedule(st) {
		if c.Assumed {
			continue
		}
		x.Cues = append(x.Cues, [2]any{(now.Elapsed + c.In).Milliseconds(), c.Kind})
		for _, t := range c.Kind.Tones() {
			x.Sounds = append(x.Sounds, [3]float64{(now.Elapsed + c.In + t.At).Seconds(), t.Length.Seconds(), t.Hz})
		}
	}
	return x
}

const (
	// saidFor is how far into a step what is to be done is told each second, and saidLast
	// how long before its end again; in a wash over night little changes in between.
	saidFor, saidLast = 2 * time.Hour, 2 * time.Minute

	// openFor is how far ahead it is told in a step of open time.
	openFor = 15 * time.Minute
)

// said returns what is to be done in the step that runs, from when.
func said(st session.State) [][3]any {
	now := st.Now()
	times := map[time.Duration]bool{now.Elapsed: true}
	end := now.Lasts
	if end == 0 {
		end = now.Elapsed + openFor
	}
	for e := now.Elapsed.Truncate(time.Second); e <= end; e += time.Second {
		if e <= saidFor || end-e <= saidLast {
			times[max(e, now.Elapsed)] = true
			times[max(end-e, now.Elapsed)] = true
		}
	}
	times[max(end, now.Elapsed)] = true
	st.Steps = slices.Clone(st.Steps)
	running := &st.Steps[st.Running-1]
	var out [][3]any
	for _, e := range slices.Sorted(maps.Keys(times)) {
		running.Elapsed = e
		text, until := st.Says(), int64(0)
		if wait := running.Stands(); wait > 0 {
			text, until = strings.Replace(text, session.ClockText(wait), "{}", 1), (e + wait).Milliseconds()
		}
		if n := len(out); n > 0 && out[n-1][1] == text && out[n-1][2] == until {
			continue
		}
		out = append(out, [3]any{e.Milliseconds(), text, until})
	}
	return out
}

// Beat is what a page asks for again and again: whether something was done elsewhere, and
// the time of the step that runs.
type Beat struct {
	Number  int   `json:"number"`
	Elapsed int64 `json:"elapsed"` // milliseconds
	Over    bool  `json:"over"`
}

// NewBeat returns it at a time.
func NewBeat(s *session.Session, at time.Time) Beat {
	st := s.At(at)
	return Beat{Number: st.Number, Elapsed: st.Now().Elapsed.Milliseconds(), Over: st.Over}
}
