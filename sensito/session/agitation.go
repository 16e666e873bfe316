package session

import (
	"strconv"
	"strings"
	"time"

	"sensito/sensito/internal/lazy"
)

// Cadence is how a bath is moved, as far as a clock can tell of it. The zero value is
// of words that it cannot follow.
type Cadence struct {
	Continuous bool
	None       bool

	// Intermittent agitation: First from the start, then Each as every Every has
	// passed. Every is 0 where it is not intermittent.
	First, Each, Every time.Duration
}

var cadenceForm = lazy.Regexp(`^(?:continuous(?:ly)? (?:for )?(?:the )?(?:first )?)?(\d{1,3}) ?s(?:ec(?:onds)?)?, then (\d{1,3}) ?s(?:ec(?:onds)?)? (?:each|every|a) (?:(minute)|(\d{1,3}) ?s(?:ec(?:onds)?)?|(\d{1,2}) min(?:utes)?)\b`)

// ParseCadence reads the words of a procedure: those that begin with "continuous" or
// "none", and "30 s, then 5 s each minute" or "... every 30 s". Other words give the
// zero value.
func ParseCadence(words string) Cadence {
	words = strings.ToLower(strings.TrimSpace(words))
	if part := cadenceForm().FindStringSubmatch(words); part != nil {
		number := func(text string) time.Duration {
			n, _ := strconv.Atoi(text) // digits, or nothing and 0
			return time.Duration(n) * time.Second
		}
		c := Cadence{First: number(part[1]), Each: number(part[2]), Every: number(part[4]) + 60*number(part[5])}
		if part[3] != "" {
			c.Every = time.Minute
		}
		if c.Every < time.Second || c.Each <= 0 || c.Each >= c.Every {
			return Cadence{}
		}
		return c
	}
	switch {
	case strings.HasPrefix(words, "continuous"):
		return Cadence{Continuous: true}
	case strings.HasPrefix(words, "none"):
		return Cadence{None: true}
	}
	return Cadence{}
}

// starts returns when agitation begins again within a step, after its first, before
// an end.
func (c Cadence) starts(end time.Duration) []time.Duration {
	var out []time.Duration
	if c.Every == 0 {
		return nil
	}
	for at := c.Every; at+c.Each <= end; at += c.Every {
		if at >= c.First {
			out = append(out, at)
		}
	}
	return out
}

// moving says whether the bath is to be moved at a time.
func (c Cadence) moving(at time.Duration) bool {
	switch {
	case c.Continuous:
		return true
	case c.Every == 0:
		return false
	case at < c.First:
		return true
	}
	return at >= c.Every && at%c.Every < c.Each
}
