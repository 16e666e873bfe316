package topics

import (
	"strings"

	"sensito/sensito/report"
)

// Plain returns the topic as a screen shows it: paragraphs, lists and the rows of
// tables wrapped to 80 columns, blocks set in, and no marks of Markdown.
func (t Topic) Plain() string {
	var out strings.Builder
	out.WriteString(t.Title + "\n\n")
	var paragraph []string
	end := func() {
		if len(paragraph) > 0 {
			out.WriteString(wrapped(strings.Join(paragraph, " ")))
		}
		paragraph = nil
	}
	block, headings := false, []string(nil)
	for line := range strings.Lines(t.Text) {
		line = strings.TrimRight(line, "\n")
		switch {
		case strings.HasPrefix(line, "```"):
			end()
			block = !block
		case block && line == "":
			out.WriteString("\n")
		case block:
			out.WriteString("    " + line + "\n")
		case line == "":
			end()
			headings = nil
			out.WriteString("\n")
		case strings.HasPrefix(line, "#"):
			end()
			out.WriteString(strings.TrimLeft(line, "# ") + "\n")
		case strings.HasPrefix(line, "|"):
			end()
			cells := cells(line)
			switch {
			case headings == nil:
				headings = cells
			case strings.Trim(line, "|-: ") != "":
				out.WriteString(row(headings, cells))
			}
		default:
			if strings.HasPrefix(line, "- ") {
				end()
			}
			paragraph = append(paragraph, strings.TrimSpace(line))
		}
	}
	end()
	return strings.TrimRight(out.String(), "\n") + "\n"
}

// wrapped returns a paragraph, or an item of a list, whose following lines are set in.
func wrapped(text string) string {
	text = unmarked.Replace(text)
	if item, is := strings.CutPrefix(text, "- "); is {
		return report.Paragraph("- ", "  ", item)
	}
	return report.Paragraph("", "", text)
}

// row returns a row of a table as its first cell, and below it each other cell
// behind its heading.
func row(headings, cells []string) string {
	out := unmarked.Replace(cells[0]) + "\n"
	for i, cell := range cells[1:] {
		if cell == "" {
			continue
		}
		if head := headings[min(i+1, len(headings)-1)]; head != "" && len(headings) > 2 {
			cell = head + ": " + cell
		}
		out += report.Paragraph("    ", "      ", unmarked.Replace(cell))
	}
	return out
}

// cells returns what stands between the bars of a line of a table.
func cells(line string) []string {
	parts := strings.Split(strings.Trim(strings.ReplaceAll(line, `\|`, "\x00"), "|"), "|")
	for i, p := range parts {
		parts[i] = strings.TrimSpace(strings.ReplaceAll(p, "\x00", "|"))
	}
	return parts
}

// unmarked takes the marks of emphasis and of code away.
var unmarked = strings.NewReplacer("**", "", "`", "")
