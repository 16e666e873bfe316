package parts

import (
	"math"
	"time"

	gplot "gonum.org/v1/plot"
)

// DateTicks marks an axis of days from a first date.
type DateTicks struct {
	first time.Time
	most  int
}

// NewDateTicks returns the ticks for days from a date, YYYY-MM-DD, at most so many.
func NewDateTicks(first string, most int) DateTicks {
	t, _ := time.Parse(time.DateOnly, first) // checked by the caller
	return DateTicks{t, most}
}

// Ends marks the first day and the last one alone, for a short axis.
func (d DateTicks) Ends(last float64) gplot.ConstantTicks {
	ticks := []gplot.Tick{d.tick(d.first, "2 Jan")}
	if last > 0 {
		ticks = append(ticks, d.tick(d.first.AddDate(0, 0, int(last)), "2 Jan"))
	}
	return d.withYears(ticks)
}

// Ticks marks days, weeks, months or years; the first of all and
// the first of each year carry the year.
func (d DateTicks) Ticks(lo, hi float64) []gplot.Tick {
	most := max(d.most, 1)
	for _, days := range []int{1, 2, 7, 14, 28} {
		if (hi-lo)/float64(days) > float64(most) {
			continue
		}
		var ticks []gplot.Tick
		for n := days * int(math.Ceil(lo/float64(days))); float64(n) <= hi; n += days {
			ticks = append(ticks, d.tick(d.first.AddDate(0, 0, n), "2 Jan"))
		}
		return d.withYears(ticks)
	}
	start := time.Date(d.first.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	const year = 12
	for months := 3; ; months *= 2 {
		layout := "Jan"
		if months >= year {
			layout = "2006"
		}
		var ticks []gplot.Tick
		for n := 0; ; n += months {
			t := d.tick(start.AddDate(0, n, 0), layout)
			if t.Value > hi {
				break
			}
			if t.Value >= lo {
				ticks = append(ticks, t)
			}
		}
		switch {
		case len(ticks) > most:
		case months >= year:
			return ticks
		default:
			return d.withYears(ticks)
		}
	}
}

func (d DateTicks) tick(at time.Time, layout string) gplot.Tick {
	return gplot.Tick{Value: math.Round(at.Sub(d.first).Hours() / 24), Label: at.Format(layout)}
}

// withYears adds the year to the first tick and to the first of each year.
func (d DateTicks) withYears(ticks []gplot.Tick) []gplot.Tick {
	last := 0
	for i := range ticks {
		year := d.first.AddDate(0, 0, int(ticks[i].Value)).Year()
		if year != last {
			ticks[i].Label += time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).Format(" 2006")
		}
		last = year
	}
	return ticks
}
