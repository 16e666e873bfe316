package clock

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	tea "charm.land/bubbletea/v2"

	"sensito/sensito"
	"sensito/sensito/session"
)

// tapTwice is how soon after a step began, here or on another device, a key that goes
// on is a slip: it was held, or hit twice.
const tapTwice = time.Second

const pressedTwice = "Pressed twice: taken once."

// longestTyped is how many characters can be keyed in; a note may be longer.
const longestTyped, longestNote = 12, 300

// key does what a key says.
func (m *model) key(k tea.KeyPressMsg) tea.Cmd {
	name, asked := k.String(), m.sure
	m.sure = ""
	switch {
	case name == "ctrl+c", name == "ctrl+d":
		return tea.Quit
	case m.session == nil:
		return m.keyBefore(name, k.Text)
	case m.session.Over():
		return m.keyAfter(name, k.Text, asked)
	}
	switch name {
	case "backspace":
		m.shorten()
	case "esc":
		m.typed, m.says = "", ""
	case "enter":
		if m.typed != "" {
			m.take()
			return nil
		}
		m.next()
	default:
		if m.typed == "" && strings.Contains("nbqe", name) && len(name) == 1 {
			return m.command(name, asked)
		}
		m.write(k.Text)
	}
	return nil
}

// command does what a letter says.
func (m *model) command(name, asked string) tea.Cmd {
	switch name {
	case "n":
		m.next()
	case "b":
		if m.act(session.Act{Do: session.DoUndo}) {
			m.says = "Taken back."
		}
	case "q":
		return tea.Quit
	case "e":
		if asked != name {
			m.sure, m.says = name, "To end the session here, whatever is left of it: e again."
			return nil
		}
		m.says = ""
		m.act(session.Act{Do: session.DoEnd})
	}
	return nil
}

// next goes to the next step.
func (m *model) next() {
	if m.session.At(m.now()).Now().Elapsed < tapTwice {
		m.says = pressedTwice
		return
	}
	m.says = ""
	m.act(session.Act{Do: session.DoNext})
}

// shorten takes away the last character that was typed.
func (m *model) shorten() {
	_, n := utf8.DecodeLastRuneInString(m.typed)
	m.typed = m.typed[:len(m.typed)-n]
}

// write takes a character of a temperature or of a clearing time.
func (m *model) write(text string) {
	if text == "" || utf8.RuneCountInString(m.typed) >= longestTyped {
		return
	}
	if strings.Trim(text, "0123456789.,:") == "" || m.typed != "" && strings.Trim(text, "cCfF°") == "" {
		m.typed += text
		m.says = ""
	}
}

// take takes what was typed: a clearing time, or the temperature of a bath.
func (m *model) take() {
	text := m.typed
	st := m.session.At(m.now())
	m.typed, m.says = "", ""
	if strings.Contains(text, ":") {
		clearing, err := sensito.ParseMinutes(text)
		if err != nil {
			m.says = err.Error()
			return
		}
		if m.act(session.Act{Do: session.DoClearing, Clearing: clearing}) {
			st = m.session.At(m.now())
			m.says = fmt.Sprintf("Cleared in %s: it stays for %s.", clearing.Clock(1), session.ClockText(st.Now().Lasts))
			if st.Discard() {
				m.says += " " + st.FixerText()
			}
		}
		return
	}
	celsius, err := sensito.ParseTemperature(text)
	if err != nil {
		m.says = err.Error()
		return
	}
	step := st.Measures()
	if m.act(session.Act{Do: session.DoTemperature, Celsius: celsius, Step: step}) {
		m.tell(step, celsius)
	}
}

// tell says what came of a temperature. What is corrected stands on the screen anyhow.
func (m *model) tell(step int, celsius float64) {
	if st := m.session.At(m.now()); st.Question == nil && (step != st.Plan.Developer || st.Correction == nil) {
		m.says = fmt.Sprintf("%s is noted.", sensito.Celsius(celsius))
	}
}

// keyBefore is key before the start. A temperature that is keyed in is of the
// developer, and is taken as the session starts.
func (m *model) keyBefore(name, text string) tea.Cmd {
	switch name {
	case "q", "esc":
		return tea.Quit
	case "backspace":
		m.shorten()
	case "enter":
		if m.typed != "" {
			if _, err := sensito.ParseTemperature(m.typed); err != nil {
				m.typed, m.says = "", err.Error()
				return nil
			}
		}
		typed := m.typed
		m.typed = ""
		if m.start(); m.session != nil && typed != "" {
			m.typed = typed
			m.take()
		}
	default:
		m.write(text)
	}
	return nil
}

// keyAfter is key when all steps are over: a note is typed for the log.
func (m *model) keyAfter(name, text, asked string) tea.Cmd {
	switch name {
	case "backspace":
		m.shorten()
	case "ctrl+z":
		m.says = ""
		m.act(session.Act{Do: session.DoUndo})
	case "esc":
		if asked != name {
			m.sure, m.says = name, "Not to be kept in the log? Esc again."
			return nil
		}
		if m.act(session.Act{Do: session.DoClose}) {
			return tea.Quit
		}
	case "enter":
		if m.now().Sub(m.session.At(m.now()).Now().Ended) < tapTwice {
			m.says = pressedTwice
			return nil
		}
		return m.keep(m.typed)
	default:
		if utf8.RuneCountInString(m.typed)+utf8.RuneCountInString(text) <= longestNote {
			m.typed += text
		}
	}
	return nil
}

// noted returns what adds a note to the log.
func noted(note string) func(*sensito.Done) {
	return func(d *sensito.Done) { d.Note = strings.TrimSpace(note) }
}
