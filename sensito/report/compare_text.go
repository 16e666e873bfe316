package report

import (
	"fmt"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// namesOfDifference are the quantities in words, in the order they are written.
var namesOfDifference = []struct{ key, name string }{
	{compare.DiffSpeedStops, "speed, stops"},
	{compare.DiffBaseFog, "base plus fog"},
	{compare.DiffMinutes, "time needed, min"},
	{compare.DiffToe, "toe length, log H"},
	{compare.DiffShadowGradient, "gradient of shadows"},
	{compare.DiffStraightness, "off the straight line"},
	{compare.DiffShoulder, "shoulder begins, log H"},
	{compare.DiffUsable, "usable range, log H"},
	{compare.DiffMaxDensity, "maximum net density"},
}

// allPairs is up to how many trials every pair is written; of more, each is
// held against the first.
const allPairs = 3

// writeDifferences writes the differences pair by pair.
func (r *Compare) writeDifferences(w *writer) {
	var pair []compare.Difference
	all := r.comparison.Differences
	for i, d := range all {
		pair = append(pair, d)
		if i+1 < len(all) && all[i+1].A == d.A && all[i+1].B == d.B {
			continue
		}
		if len(r.trials) <= allPairs || d.A == r.first() {
			r.writePair(w, pair)
		}
		pair = nil
	}
}

// first returns the first trial that is compared.
func (r *Compare) first() int {
	return max(0, slices.IndexFunc(r.trials, func(t *compare.Compared) bool { return t.Reason == nil }))
}

const (
	verdictReal = "real"
	verdictNot  = "not proven"
)

func (r *Compare) writePair(w *writer, pair []compare.Difference) {
	w.Printf("\n")
	rows := [][]string{{fmt.Sprintf("%d less %d", pair[0].B+1, pair[0].A+1), "", page.Percent(r.comparison.Level) + " interval", ""}}
	var missing, unproven []string
	add := func(label string, q *Quantity, real bool) {
		verdict := verdictNot
		if real {
			verdict = verdictReal
		}
		p := q.places()
		ends := page.SignedFixed(q.Low, p) + " to " + page.SignedFixed(q.High, p)
		value := q.String()
		if !strings.HasPrefix(value, "-") && strings.Trim(q.value(), "0.") != "" {
			value = "+" + value
		}
		if !real && !w.Full {
			unproven = append(unproven, strings.SplitN(label, ",", 2)[0])
			return
		}
		rows = append(rows, []string{label, value, ends, verdict + strings.Repeat(" ", page.Width(verdictNot)-page.Width(verdict))})
	}
	for _, n := range namesOfDifference {
		for _, d := range pair {
			if d.Quantity != n.key {
				continue
			}
			if q := r.value(d); q != nil {
				add(n.name, q, d.Real)
			} else {
				missing = append(missing, strings.SplitN(n.name, ",", 2)[0])
			}
		}
	}
	label := "net density at "
	for _, d := range pair {
		if d.Quantity != compare.DiffTone || !w.Full {
			continue
		}
		if q := r.value(d); q != nil && q.SD >= exactSD {
			add(label+page.Signed(*d.Stops)+" stops", q, d.Real)
			label = "  "
		}
	}
	if len(rows) > 1 {
		w.Table(rows)
	} else {
		w.Printf("%s\n", rows[0][0])
	}
	if len(unproven) > 0 {
		w.Paragraph("", "  ", "no difference proven: "+strings.Join(unproven, ", "))
	}
	if len(missing) > 0 {
		w.Paragraph("", "  ", "without a difference: "+strings.Join(missing, ", "))
	}
}

// exactSD is below the error of anything measured: the densities of the speed
// point are the same by definition.
const exactSD = 1e-6

// toldInCells are warnings that the table of the trials shows by itself.
var toldInCells = map[string]bool{"no_shoulder": true, "no_max_density": true}

func (r *Compare) writeNotes(w *writer) {
	if len(r.trials) > allPairs {
		w.Paragraph("", "", "Each trial is held against the first; --json has every pair.")
	}
	w.Paragraph("", "", fmt.Sprintf("Real: of 100 pairs of equal trials no more than %s have any difference called so, all quantities of a pair taken together "+
		"(Holm 1979; the tones count as one quantity). Not proven: no larger than chance makes it.", page.Plain(100*(1-r.comparison.Level))))
	w.Paragraph("", "", "Speed is 0.8/H at net density 0.10. Toe: where the gradient rises from 0.25 to 0.75 of gamma. Shadows: net density 0.10 to 0.40. "+
		"Off the straight line: largest departure from that between net 0.30 and 1.20. Shoulder and usable range: from the speed point to where the gradient has "+
		"fallen to 0.75 and 0.5 of gamma; > where the wedge ends before. Tones: stops from the metered exposure, at each trial's own index. ± one standard deviation.")
	if slices.ContainsFunc(r.trials, func(t *compare.Compared) bool { return t.Answer.Tested() != t.Answer }) {
		w.Paragraph("", "", "The densities of the tones, and the other quantities of the curve, are those at exactly this gradient: their ± leaves out how well "+
			"the time of today is known, which the density range given counts.")
	}
	r.writeExtrapolated(w)
}

// writeExtrapolated explains the mark of times outside the tested ones.
func (r *Compare) writeExtrapolated(w *writer) {
	var of []scene.Extrapolation
	for _, t := range r.trials {
		of = append(of, t.Answer.Extrapolation)
	}
	if outside := answers.Outside(of...); outside != "" {
		w.Paragraph("* ", "  ", outside+": test a strip there before relying on it")
	}
}

// told returns the warnings that the tables do not show.
func (r *Compare) told() sensito.Warnings {
	told := sensito.Warnings{}
	for _, warning := range r.warnings {
		if !toldInCells[warning.Code] {
			told = append(told, warning)
		}
	}
	return told
}
