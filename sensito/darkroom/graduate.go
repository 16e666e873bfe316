package darkroom

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
)

// A Graduate is a measuring vessel.
type Graduate struct {
	Capacity Volume       // of one filling
	Mark     Volume       // between two marks, to which it can be read
	System   VolumeSystem // of its marks
}

// Graduates returns the vessels of an ordinary darkroom, the smallest of them a
// pipette or syringe (common practice, no source).
func Graduates() []Graduate {
	return []Graduate{{Capacity: 10, Mark: 0.1}, {Capacity: 25, Mark: 0.5}, {Capacity: 100, Mark: 1}, {Capacity: 500, Mark: 5}, {Capacity: 1000, Mark: 10}}
}

// ParseGraduates reads vessels as capacity and mark, "10/0.1, 100/1", in ml or
// with a unit behind each, "32/1usfloz".
func ParseGraduates(text string) ([]Graduate, error) {
	var all []Graduate
	for item := range strings.SplitSeq(text, ",") {
		item = strings.TrimSpace(item)
		capacity, mark, found := strings.Cut(item, "/")
		number := strings.IndexFunc(mark, func(r rune) bool { return !(r >= '0' && r <= '9' || r == '.' || r == ' ') })
		unit := "ml"
		if number >= 0 {
			mark, unit = mark[:number], mark[number:]
		}
		if !found {
			return nil, fmt.Errorf("%q is not a graduate like 100/1 (capacity and mark in ml) or 32/1usfloz", item)
		}
		var g Graduate
		var err error
		if g.Capacity, g.System, err = ParseVolume(capacity + unit); err != nil {
			return nil, err
		}
		if g.Mark, _, err = ParseVolume(mark + unit); err != nil {
			return nil, err
		}
		if g.System == AssumedUS {
			return nil, fmt.Errorf("%q may be US or imperial: write usfloz or impfloz", item)
		}
		if g.Mark > g.Capacity {
			return nil, fmt.Errorf("%q: a mark is larger than the graduate", item)
		}
		all = append(all, g)
	}
	if len(all) > 50 {
		return nil, fmt.Errorf("%d graduates are more than 50", len(all))
	}
	return all, nil
}

// Graduated is a volume as a graduate shows it.
type Graduated struct {
	Volume   Volume // a whole number of marks
	Graduate Graduate
	Fills    int // more than 1 when no graduate holds it at once
}

// String returns the volume in the units of the graduate.
func (g Graduated) String() string { return g.Volume.In(g.Graduate.System) }

// Vessel names the graduate.
func (g Graduated) Vessel() string {
	text := fmt.Sprintf("the graduate of %s, marks of %s", g.Graduate.Capacity.In(g.Graduate.System), g.Graduate.Mark.In(g.Graduate.System))
	if g.Fills > 1 {
		text += fmt.Sprintf(", %d fills", g.Fills)
	}
	return text
}

// graduated returns v as the graduate shows it that reads it most finely, rounded
// to its marks but not below least.
func graduated(v, least Volume, graduates []Graduate) Graduated {
	const hair = 1e-9 // of rounding
	best := slices.MaxFunc(graduates, func(a, b Graduate) int {
		holdsA, holdsB := a.Capacity >= v*(1-hair), b.Capacity >= v*(1-hair)
		switch {
		case holdsA != holdsB && holdsA, holdsA && holdsB && a.Mark < b.Mark, !holdsA && !holdsB && a.Capacity > b.Capacity:
			return 1
		default:
			return -1
		}
	})
	marks := max(math.Round(float64(v/best.Mark)), 1)
	if Volume(marks)*best.Mark < least*(1-hair) {
		marks++
	}
	m := Graduated{Volume: Volume(marks) * best.Mark, Graduate: best}
	m.Fills = max(int(math.Ceil(float64(m.Volume/best.Capacity)*(1-hair))), 1)
	return m
}

// doubt returns half a mark for each fill, as far as a reading may be off,
// relative to the volume.
func (m Graduated) doubt() float64 {
	return float64(m.Fills) * float64(m.Graduate.Mark) / 2 / float64(m.Volume)
}

// A Pour is one liquid measured, and the water that is added or topped up with.
type Pour struct {
	Liquid Graduated
	Water  Graduated // with TopUp, the volume that it is topped up to
	TopUp  bool      // with water, in the graduate of the whole
}

// pourInto returns how to measure the liquid and make it up to a total: topped
// up where one graduate holds that, else with the water measured.
func pourInto(liquid, total, least Volume, graduates []Graduate) Pour {
	p := Pour{Liquid: graduated(liquid, least, graduates), Water: graduated(total, 0, graduates), TopUp: true}
	if p.Water.Fills > 1 {
		p.Water, p.TopUp = graduated(total-p.Liquid.Volume, 0, graduates), false
	}
	return p
}

// Makes returns the volume that comes of it.
func (p Pour) Makes() Volume {
	if p.TopUp {
		return p.Water.Volume
	}
	return p.Liquid.Volume + p.Water.Volume
}

// share returns how much of the result is the liquid.
func (p Pour) share() float64 { return float64(p.Liquid.Volume / p.Makes()) }

// doubt returns how far readings off by half a mark, both the unlucky way, move
// the share.
func (p Pour) doubt() float64 {
	if p.TopUp {
		return p.Liquid.doubt() + p.Water.doubt()
	}
	return (1 - p.share()) * (p.Liquid.doubt() + p.Water.doubt())
}

// Measuring is a way to mix with graduates.
type Measuring struct {
	Pours    []Pour           // one, or two where a stock is made first
	Dilution sensito.Dilution // that comes of it, from the concentrate
	Strength float64          // how much stronger it is than wanted: 0.01 is 1 %; negative for weaker
	Doubt    float64          // how far half a mark at each reading moves the strength at most
	Left     Volume           // of the stock
}

// pours sums up a way to mix that is to give the dilution wanted.
func pours(wanted sensito.Dilution, left Volume, list ...Pour) *Measuring {
	m := &Measuring{Pours: list, Left: left}
	share := 1.0
	for _, p := range list {
		share *= p.share()
		m.Doubt += p.doubt()
	}
	m.Dilution, m.Strength = diluted(1/share), share*wanted.Parts()-1
	return m
}

// allPoured sums up a way over a stock of which all goes on, so that it is not
// measured again: how far it was made up does not matter in the end.
func allPoured(wanted sensito.Dilution, stock, work Pour) *Measuring {
	m := &Measuring{Pours: []Pour{stock, work}}
	total := work.Makes()
	m.Doubt = stock.Liquid.doubt() + work.Water.doubt()
	if !work.TopUp {
		work.Liquid.Volume = stock.Makes()
		total = work.Makes()
		m.Doubt = stock.Liquid.doubt() + (work.Water.doubt()*float64(work.Water.Volume)+stock.Water.doubt()*float64(stock.Water.Volume))/float64(total)
	}
	m.Dilution = diluted(float64(total / stock.Liquid.Volume))
	m.Strength = wanted.Parts()/m.Dilution.Parts() - 1
	return m
}

// worst returns how far from wanted the strength may be.
func (m *Measuring) worst() float64 { return math.Abs(m.Strength) + m.Doubt }

// overStock returns the way over a stock that measures a little concentrate
// well: at 3 % the one that takes the least concentrate, else the surest; nil
// if there is none.
func overStock(wanted sensito.Dilution, concentrate, total, least Volume, graduates []Graduate) *Measuring {
	const enough = 0.03
	var best *Measuring
	for _, parts := range []float64{2, 4, 5, 10, 20, 25, 50, 100} {
		used := concentrate * Volume(parts)
		if used > total {
			break
		}
		for _, first := range []Volume{5, 10, 20, 25, 50, 100} {
			made := first * Volume(parts)
			if made < used || made > Litre {
				continue
			}
			stock := pourInto(first, made, 0, graduates)
			work := pourInto(used, total, least*Volume(parts), graduates)
			m := pours(wanted, stock.Makes()-work.Liquid.Volume, stock, work)
			if m.Left < 0 {
				continue
			}
			better := best == nil || m.worst() < best.worst() && best.worst() > enough
			if best != nil && m.worst() <= enough && best.worst() <= enough {
				a, b := m.Pours[0].Liquid.Volume, best.Pours[0].Liquid.Volume
				better = a < b || a == b && m.worst() < best.worst()
			}
			if better {
				best = m
			}
		}
	}
	return best
}
