package darkroom

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/decimal"
)

// MixSpec says what is to be mixed. Of dilution (or strength), concentrate,
// water and total any two say the rest; what is zero is not stated.
type MixSpec struct {
	Dilution sensito.Dilution

	// Percent is the strength wanted, in grams in 100 ml, in place of a dilution;
	// StockPercent that of the solution it is made from, zero for a dry substance.
	Percent, StockPercent float64

	// Stock is the dilution of a stock that is made of the concentrate first; then
	// Dilution is that of the stock.
	Stock sensito.Dilution

	Concentrate, Water, Total Volume

	Tank  Volume          // what the vessel takes; also the total where nothing else says it
	Films []sensito.Films // developed in it at once
	Least Least           // concentrate that the films need; zero states none

	Graduates []Graduate // nil means Graduates()

	// Systems says how the volumes were written, by their text; nil for metric.
	Systems map[string]VolumeSystem
}

// A Mix is volumes to be mixed, and how to measure them.
type Mix struct {
	Spec     MixSpec
	Dilution sensito.Dilution // from the concentrate, over a stock too; not stated for a dry substance

	Concentrate, Water, Total Volume  // exact; Water is that of both steps with a stock
	Stock                     Volume  // of a stock that is made first and all used; 0 for none
	Grams                     float64 // of a dry substance; else 0

	Measuring *Measuring // with graduates; nil where nothing is diluted
	Instead   *Measuring // over a stock, where so little concentrate cannot be measured well; may be nil
	Use       *Use       // of the concentrate by the films; nil without films

	Warnings sensito.Warnings
}

// worstStrength is how far the strength may be off before a way over a stock is
// proposed (common practice, no source).
const worstStrength = 0.05

// NewMix returns the volumes of a mixture. Errors are of a spec that says too
// little, too much or what contradicts itself; or Unanswerable, when the vessel
// is too small or there is too little concentrate for the films.
func NewMix(spec MixSpec) (*Mix, error) {
	if spec.Graduates == nil {
		spec.Graduates = Graduates()
	}
	m := &Mix{Spec: spec, Warnings: sensito.Warnings{}}
	if err := m.ounces(); err != nil {
		return nil, err
	}
	if err := m.ratio(); err != nil {
		return nil, err
	}
	if err := m.volumes(); err != nil {
		return nil, err
	}
	if err := m.fits(); err != nil {
		return nil, err
	}
	if err := m.use(); err != nil {
		return nil, err
	}
	m.notes()
	m.measure()
	return m, nil
}

// ounces says which ounce is meant where the text does not.
func (m *Mix) ounces() error {
	var assumed []string
	imperial := false
	for _, text := range slices.Sorted(maps.Keys(m.Spec.Systems)) {
		switch m.Spec.Systems[text] {
		case AssumedUS:
			assumed = append(assumed, text)
		case Imperial:
			imperial = true
		}
	}
	switch {
	case len(assumed) == 0:
	case imperial:
		return fmt.Errorf("%s beside imperial volumes may be US or imperial: write usfloz or impfloz", strings.Join(assumed, " and "))
	default:
		m.Warnings.Add("ounce_assumed", strings.Join(assumed, " and "), float64(USFluidOunce), float64(ImperialFluidOunce))
	}
	return nil
}

// ratio finds the dilution from the concentrate as far as the spec states it.
func (m *Mix) ratio() error {
	s := m.Spec
	switch {
	case s.Percent > 0 && (s.Dilution.Stated() || s.Stock.Stated()):
		return fmt.Errorf("a strength in percent does not go with a dilution")
	case s.Percent > 0 && len(s.Films) > 0:
		return fmt.Errorf("films need so much of a concentrate; a strength in percent does not say how much that is")
	case s.StockPercent > 0 && s.Percent == 0:
		return fmt.Errorf("a stock of %g %% needs the strength in percent that is made of it", s.StockPercent)
	case s.Percent > 0 && s.StockPercent == 0:
		return nil
	case s.Percent > s.StockPercent:
		return &sensito.Unanswerable{Reason: fmt.Sprintf("%g %% cannot be made of a solution of %g %%", s.Percent, s.StockPercent), Hint: "dissolve more, or start from a stronger one"}
	case s.Percent > 0: // C1 V1 = C2 V2
		m.Dilution = diluted(s.StockPercent / s.Percent)
	case s.Stock.Stated() && !s.Dilution.Stated():
		return fmt.Errorf("a stock of %s needs the dilution that is made of it", s.Stock)
	case s.Stock.Stated():
		m.Dilution = diluted(s.Stock.Parts() * s.Dilution.Parts())
	default:
		m.Dilution = s.Dilution
	}
	if m.Dilution.Water > sensito.MaxWaterParts*m.Dilution.Concentrate {
		return fmt.Errorf("%s is outside 1+0 to 1+%d", m.Dilution, sensito.MaxWaterParts)
	}
	return nil
}

// volumes solves for what is not stated and checks what is stated twice.
func (m *Mix) volumes() error {
	s := m.Spec
	c, w, t := s.Concentrate, s.Water, s.Total
	if dry := s.Percent > 0 && s.StockPercent == 0; dry {
		if c > 0 || w > 0 {
			return fmt.Errorf("a dry substance is dissolved and topped up: state the total")
		}
		if m.Total = pick(t, s.Tank); m.Total == 0 {
			return fmt.Errorf("a volume is missing: state the total")
		}
		m.Grams = s.Percent / 100 * float64(m.Total)
		return nil
	}
	if t == 0 && (w == 0 && (c == 0 || !m.Dilution.Stated()) || c == 0 && !m.Dilution.Stated()) {
		t = s.Tank // nothing else says how much
	}
	parts := Volume(0)
	if m.Dilution.Stated() {
		parts = Volume(m.Dilution.Parts())
	}
	switch {
	case parts > 0 && t > 0:
		m.Concentrate = t / parts
	case parts > 0 && c > 0:
		m.Concentrate = c
	case parts > 1 && w > 0:
		m.Concentrate = w / (parts - 1)
	case c > 0 && t > 0:
		m.Concentrate = c
	case c > 0 && w > 0:
		m.Concentrate, t = c, c+w
	case w > 0 && t > 0:
		m.Concentrate = t - w
	case parts > 0 && len(s.Films) > 0 && s.Least.Concentrate > 0:
		m.Concentrate = s.Least.of(sensito.FilmTotals(s.Films))
		m.Warnings.Add("least_volume", m.Concentrate*parts)
	case parts > 0:
		return fmt.Errorf("a volume is missing: state the total, the concentrate or the water")
	default:
		return fmt.Errorf("the dilution is missing: state it, or two of concentrate, water and total")
	}
	if parts == 0 {
		if !(m.Concentrate > 0 && m.Concentrate <= t) {
			return fmt.Errorf("%s in all leave no room for %s", t, pick(w, c))
		}
		parts = t / m.Concentrate
		m.Dilution = diluted(float64(parts))
	}
	m.Total = m.Concentrate * parts
	m.Water = m.Total - m.Concentrate
	for _, given := range []struct {
		name        string
		stated, got Volume
	}{{"concentrate", c, m.Concentrate}, {"water", w, m.Water}} {
		if given.stated > 0 && !near(given.stated, given.got) {
			return fmt.Errorf("%s with the other volumes stated makes %s %s, not %s: leave one of them out", m.Dilution, given.name, given.got, given.stated)
		}
	}
	if m.Dilution.Water > sensito.MaxWaterParts*m.Dilution.Concentrate {
		return fmt.Errorf("%s is outside 1+0 to 1+%d", m.Dilution, sensito.MaxWaterParts)
	}
	if m.Total > largestVolume {
		return fmt.Errorf("%s in all are more than %g l", m.Total, largestVolume.Litres())
	}
	if m.Spec.Stock.Water > 0 {
		m.Stock = m.Total / Volume(s.Dilution.Parts())
	}
	return nil
}

// pick returns the first volume that is stated.
func pick(a, b Volume) Volume {
	if a > 0 {
		return a
	}
	return b
}

// fits checks the total against the vessel.
func (m *Mix) fits() error {
	tank := m.Spec.Tank
	switch {
	case tank == 0:
	case m.Total > tank*(1+1e-9):
		return &sensito.Unanswerable{Reason: fmt.Sprintf("%s do not go into a vessel of %s", m.Total, tank), Hint: "mix less, or use a larger vessel"}
	case m.Total < tank*(1-1e-9):
		m.Warnings.Add("tank_not_full", m.Total, tank)
	}
	return nil
}

// notes says what the way of writing leaves open.
func (m *Mix) notes() {
	s := m.Spec
	for _, d := range []sensito.Dilution{s.Dilution, s.Stock} {
		if other, ok := oneIn(d); ok {
			write := fmt.Sprintf("write %s or %s", sensito.Dilution{Concentrate: d.Concentrate, Water: d.Water}, other)
			all := m.Total
			if s.Stock.Stated() && d == s.Stock {
				all = m.Stock
			}
			m.Warnings.Add("colon", decimal.Digits(d.Concentrate, 5), decimal.Digits(d.Water, 5), sensito.Dilution{Concentrate: d.Concentrate, Water: d.Water}, all/Volume(d.Parts()), all, decimal.Digits(d.Concentrate, 5), decimal.Digits(d.Water, 5), all/Volume(other.Parts()), write)
		}
	}
	if s.Dilution.Stated() || s.Percent > 0 || s.Concentrate == 0 {
		return
	}
	if c := s.Concentrate; s.Water > 0 {
		m.Warnings.Add("topped_up", c, s.Water, m.Total, m.Dilution, c, s.Water, diluted(float64(s.Water/c)))
	} else {
		m.Warnings.Add("topped_up/2", c, m.Total, m.Dilution, c, m.Total, diluted(float64((m.Total+c)/c)))
	}
}

// measure finds how graduates give the mixture, and what that does to its
// strength.
func (m *Mix) measure() {
	if !m.Dilution.Stated() || m.Water < smallestVolume {
		return
	}
	s := m.Spec
	var least Volume
	if m.Use != nil && m.Use.Least != nil {
		least = *m.Use.Least
	}
	switch {
	case m.Stock > 0 && s.Dilution.Water > 0:
		first := pourInto(m.Concentrate, m.Stock, least, s.Graduates)
		second := pourInto(m.Stock, m.Total, 0, s.Graduates)
		m.Measuring = allPoured(m.Dilution, first, second)
	case s.Water > 0 && s.Total == 0:
		m.Measuring = pours(m.Dilution, 0, Pour{Liquid: graduated(m.Concentrate, least, s.Graduates), Water: graduated(m.Water, 0, s.Graduates)})
	default:
		m.Measuring = pours(m.Dilution, 0, pourInto(m.Concentrate, m.Total, least, s.Graduates))
	}
	worst := m.Measuring.worst()
	if worst <= worstStrength {
		return
	}
	if m.Stock == 0 {
		if way := overStock(m.Dilution, m.Concentrate, m.Total, least, s.Graduates); way != nil && way.worst() < worst/1.5 {
			m.Instead = way
		}
	}
	advice := "mix more at once, or measure it with a finer graduate or a syringe"
	if m.Instead != nil {
		advice = "make a stock first, as below"
	}
	m.Warnings.Add("hard_to_measure", math.Ceil(100*worst), advice)
}

// diluted returns the dilution of one part in so many.
func diluted(parts float64) sensito.Dilution {
	return sensito.Dilution{Concentrate: 1, Water: parts - 1}
}

// oneIn returns the dilution that the colon of d means to who reads 1:31 as 1 in 31;
// false where that would be no dilution.
func oneIn(d sensito.Dilution) (sensito.Dilution, bool) {
	if !d.Colon || d.Water < d.Concentrate {
		return sensito.Dilution{}, false
	}
	return diluted(d.Water / d.Concentrate), true
}

// near reports whether two values agree within half a percent, as closely as
// anybody states the volumes of one mixture.
func near[T ~float64](a, b T) bool { return math.Abs(float64(a-b)) <= 0.005*math.Abs(float64(b)) }
