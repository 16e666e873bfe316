package clock

import (
	"cmp"
	"fmt"
	"strings"
	"unicode/utf8"

	tea "charm.land/bubbletea/v2"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/session"
)

// View draws the screen.
func (m *model) View() tea.View {
	width := m.width
	if width == 0 {
		width = 80
	}
	var lines []string
	switch {
	case m.session == nil:
		lines = m.before()
	case m.session.Over():
		lines = m.after()
	default:
		lines = m.running(width)
	}
	text := console.Wrapped(strings.Join(lines, "\n")+"\n", width)
	if m.height > 0 {
		// What does not fit is the end: what is to be done stands first.
		all := strings.Split(strings.TrimRight(text, "\n"), "\n")
		text = strings.Join(all[:min(len(all), m.height)], "\n")
	}
	v := tea.NewView(text)
	v.AltScreen = true
	return v
}

// before is the screen before the start. What is to be keyed in stands first, so that
// a low terminal shows it.
func (m *model) before() []string {
	lines := []string{
		fmt.Sprintf("The developer is now at: %s_ °C  (%s; empty leaves that)", m.typed, planned(m.begin.Plan)),
		"Enter: pour in, and start the clock    q: leave", m.says, "", session.ScreenCaution, "",
	}
	return append(lines, m.begin.Lines...)
}

func planned(p session.Plan) string {
	if p.Rate == nil {
		return "none is planned, so none is corrected for"
	}
	return sensito.Celsius(p.Rate.Celsius) + " is planned"
}

// running is the screen while the clock runs.
func (m *model) running(width int) []string {
	st := m.session.At(m.now())
	now := st.Now()
	lines := []string{fmt.Sprintf("%s   (step %d of %d)", now.Label(), st.Running, len(st.Steps)), ""}
	lines = append(lines, large(st.RemainingText(), width)...)
	lines = append(lines, "", fmt.Sprintf("%s  %s", strings.ToUpper(st.LightWord()), st.LightText()), bar(st, width), st.Says(), "")
	lines = append(lines, m.bath(st)...)
	lines = append(lines, "", "n or Enter: next step   b: take back   e: end   q: leave, the clock runs on", session.ScreenCaution, "")
	return append(lines, steps(st)...)
}

// bath is what is keyed in, and what is said of it.
func (m *model) bath(st session.State) []string {
	var lines []string
	if st.AsksClearing() {
		lines = append(lines, fmt.Sprintf("The film cleared after (m:ss), or the bath is at: %s_", m.typed))
	} else {
		lines = append(lines, fmt.Sprintf("%s is now at: %s_ °C", st.BathText(), m.typed))
	}
	if m.says != "" {
		return append(lines, m.says)
	}
	return append(lines, st.ReadingText())
}

// steps lists those that went, the one that runs and those to come.
func steps(st session.State) []string {
	var lines []string
	for _, s := range st.Steps {
		mark, when := " ", ""
		switch {
		case s.Number == st.Running && !st.Over:
			mark, when = ">", "since "+s.Began.Format("15:04:05")
		case !s.Ended.IsZero():
			when = "done " + s.Ended.Format("15:04:05")
		}
		dark := " "
		if s.Dark {
			dark = "D"
		}
		lines = append(lines, fmt.Sprintf("%s %s %-14s %7s  %s", mark, dark, when, s.LastsText(), s.Label()))
	}
	return lines
}

// bar shows how much of the step has gone.
func bar(st session.State, width int) string {
	left, known := st.Remaining()
	if !known {
		return ""
	}
	n := max(10, min(width, 60)-2)
	full := n
	if lasts := st.Now().Lasts; left > 0 && lasts > 0 {
		full = int(float64(n) * (1 - left.Seconds()/lasts.Seconds()))
	}
	full = max(0, min(n, full))
	return "[" + strings.Repeat("=", full) + strings.Repeat(" ", n-full) + "]"
}

// after is the screen when all is over.
func (m *model) after() []string {
	st := m.session.At(m.now())
	lines := []string{"Done at " + st.Now().Ended.Format("15:04"), "", fmt.Sprintf("%-30s %8s %8s  %s", "step", "planned", "was", "°C")}
	for _, s := range st.Steps {
		if s.Began.IsZero() {
			continue
		}
		name, planned := s.WentText()
		lines = append(lines, strings.TrimRight(fmt.Sprintf("%s %8s %8s  %s", padded(name, 30), cmp.Or(planned, "-"), session.ClockText(s.Elapsed), st.Temperatures(s.Number)), " "))
	}
	lines = append(lines, "")
	for _, text := range []string{st.WorthText(), st.FixerText()} {
		if text != "" {
			lines = append(lines, text)
		}
	}
	if _, err := st.Done(""); err != nil {
		return append(lines, "Not for the log: "+err.Error()+".", "Esc twice: close the session    Ctrl-Z: take the end back    Ctrl-C: leave", m.says)
	}
	return append(lines, "", "Note: "+m.typed+"_", "Enter: keep it in the log of "+st.Plan.Trial+"    Esc: do not keep    Ctrl-Z: take the end back    Ctrl-C: leave", m.says)
}

func padded(text string, width int) string {
	return text + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text)))
}

// letters are figures as they are drawn large, five lines each.
var letters = map[rune][5]string{
	'0': {"█████", "█   █", "█   █", "█   █", "█████"},
	'1': {"  ██ ", "   █ ", "   █ ", "   █ ", "  ███"},
	'2': {"█████", "    █", "█████", "█    ", "█████"},
	'3': {"█████", "    █", " ████", "    █", "█████"},
	'4': {"█   █", "█   █", "█████", "    █", "    █"},
	'5': {"█████", "█    ", "█████", "    █", "█████"},
	'6': {"█████", "█    ", "█████", "█   █", "█████"},
	'7': {"█████", "    █", "   █ ", "  █  ", "  █  "},
	'8': {"█████", "█   █", "█████", "█   █", "█████"},
	'9': {"█████", "█   █", "█████", "    █", "█████"},
	':': {" ", "█", " ", "█", " "},
}

// large draws the figures of a time large, twice as wide where there is room, with
// the words behind them beside the last line; in a narrow terminal as they are.
func large(text string, width int) []string {
	figures, words, _ := strings.Cut(text, " ")
	wide := 2
	if width < 60 {
		wide = 1
	}
	var out []string
	for row := range 5 {
		var b strings.Builder
		for _, r := range figures {
			for _, c := range letters[r][row] {
				b.WriteString(strings.Repeat(string(c), wide))
			}
			b.WriteString(strings.Repeat(" ", wide))
		}
		line := strings.TrimRight(b.String(), " ")
		if row == 4 && words != "" {
			line += "  " + words
		}
		if utf8.RuneCountInString(line) > width {
			return []string{text}
		}
		out = append(out, line)
	}
	return out
}
