package darkroom_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/darkroom"
)

func parsed(t require.TestingT, text string) sensito.Dilution {
	d, err := sensito.ParseDilution(text)
	require.NoError(t, err)
	return d
}

func mixed(t *testing.T, spec darkroom.MixSpec) *darkroom.Mix {
	t.Helper()
	m, err := darkroom.NewMix(spec)
	require.NoError(t, err)
	return m
}

// warned lists the codes of warnings, joined by blanks.
func warned(m *darkroom.Mix) string {
	return strings.Join(codes(m.Warnings), " ")
}

// Volumes are arithmetic: exact.
func TestMixVolumes(t *testing.T) {
	const us = darkroom.USFluidOunce
	for _, c := range []struct {
		dilution                  string
		total, concentrate, water darkroom.Volume
	}{
		{"1+31", 600, 18.75, 581.25}, {"1+31", 1000, 31.25, 968.75}, {"1+50", 500, 9.803922, 490.196078}, {"1+100", 500, 4.950495, 495.049505},
		{"1+1", 500, 250, 250}, {"1+9", 20 * us, 2 * us, 18 * us}, {"1+4", 20 * us, 4 * us, 16 * us},
		{"1+30", 600, 19.354839, 580.645161}, // 1:31 read as 1 in 31
		{"1+31", 96 * us, 3 * us, 93 * us},   // 2839 ml (common practice, no source)
		{"1+3", 32 * us, 8 * us, 24 * us},    // 946 ml (common practice, no source)
		{"1+2", 96 * us, 32 * us, 64 * us},   // Practical Photography, 1909, paras 505-506
		{"stock", 500, 500, 0},
	} {
		d := parsed(t, c.dilution)
		for name, spec := range map[string]darkroom.MixSpec{
			"dilution, total":       {Dilution: d, Total: c.total},
			"dilution, concentrate": {Dilution: d, Concentrate: c.concentrate},
			"dilution, tank":        {Dilution: d, Tank: c.total},
			"concentrate, water":    {Concentrate: c.concentrate, Water: c.water},
			"concentrate, total":    {Concentrate: c.concentrate, Total: c.total},
			"concentrate, tank":     {Concentrate: c.concentrate, Tank: c.total},
			"water, total":          {Water: c.water, Total: c.total},
			"dilution, water":       {Dilution: d, Water: c.water},
			"all":                   {Dilution: d, Concentrate: c.concentrate, Water: c.water, Total: c.total},
		} {
			if c.water == 0 && strings.Contains(name, "water") {
				continue
			}
			m := mixed(t, spec)
			assert.InEpsilon(t, float64(c.total), float64(m.Total), 2e-6, "%s: %s", c.dilution, name)
			assert.InEpsilon(t, float64(c.concentrate), float64(m.Concentrate), 2e-6, "%s: %s", c.dilution, name)
			assert.InDelta(t, float64(c.water), float64(m.Water), 1e-4, "%s: %s", c.dilution, name)
			assert.InEpsilon(t, d.Parts(), m.Dilution.Parts(), 2e-6, "%s: %s", c.dilution, name)
		}
	}
	assert.Equal(t, "2839.1 ml", (96 * us).String())
	assert.Equal(t, "946.35 ml", (32 * us).String())
}

// Practice tells 5 ml and 1000 ml from 5 ml in 1000 ml (common practice, no
// source; arithmetic exact).
func TestMixToppedUp(t *testing.T) {
	m := mixed(t, darkroom.MixSpec{Concentrate: 5, Water: 1000})
	assert.Equal(t, "1+200", m.Dilution.String())
	assert.Equal(t, "topped_up", warned(m))
	assert.Equal(t, "5 ml and 1000 ml of water make 1005 ml, 1+200; 5 ml topped up to 1000 ml would be 1+199", m.Warnings[0].Message())
	assert.False(t, m.Measuring.Pours[0].TopUp)
	m = mixed(t, darkroom.MixSpec{Concentrate: 5, Total: 1000})
	assert.Equal(t, "1+199", m.Dilution.String())
	assert.Equal(t, "5 ml topped up to 1000 ml is 1+199; 5 ml and 1000 ml of water would be 1+200", m.Warnings[0].Message())
	assert.True(t, m.Measuring.Pours[0].TopUp)
}

// A colon is said both ways, with the figures of the data sheet's 1:31.
func TestMixColon(t *testing.T) {
	m := mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1:31"), Total: 600})
	assert.Equal(t, "1+31", m.Dilution.String())
	require.Equal(t, "colon", warned(m))
	assert.Equal(t, "1:31 is read as 1+31, 18.75 ml in 600 ml; who reads it as 1 in 31 takes 19.35 ml: write 1+31 or 1+30", m.Warnings[0].Message())
	m = mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1:1"), Total: 600})
	assert.Contains(t, m.Warnings[0].Message(), "who reads it as 1 in 1 takes 600 ml: write 1+1 or stock")
	assert.Empty(t, warned(mixed(t, darkroom.MixSpec{Dilution: parsed(t, "2:1"), Total: 600})), "2 in 1 is nothing")
	assert.Empty(t, warned(mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+31"), Total: 600})))
}

func TestMixOunces(t *testing.T) {
	spec := darkroom.MixSpec{Concentrate: 2 * darkroom.USFluidOunce, Total: 40 * darkroom.USFluidOunce,
		Systems: map[string]darkroom.VolumeSystem{"2floz": darkroom.AssumedUS, "40floz": darkroom.AssumedUS}}
	m := mixed(t, spec)
	assert.Equal(t, "ounce_assumed topped_up", warned(m))
	assert.Equal(t, "2floz and 40floz: taken as US measure, in which a fluid ounce is 29.57 ml; the imperial one is 28.41 ml: write usfloz or impfloz", m.Warnings[0].Message())
	assert.Equal(t, "1+19", m.Dilution.String())
	spec.Systems["40floz"] = darkroom.USCustomary
	spec.Systems["2floz"] = darkroom.USCustomary
	assert.Equal(t, "topped_up", warned(mixed(t, spec)))
	spec.Systems = map[string]darkroom.VolumeSystem{"2floz": darkroom.AssumedUS, "40impfloz": darkroom.Imperial}
	_, err := darkroom.NewMix(spec)
	assert.EqualError(t, err, "2floz beside imperial volumes may be US or imperial: write usfloz or impfloz")
}

// C1 V1 = C2 V2.
func TestMixPercent(t *testing.T) {
	m := mixed(t, darkroom.MixSpec{Percent: 2, StockPercent: 10, Total: 500})
	assert.InDelta(t, 100, float64(m.Concentrate), 1e-9)
	assert.InDelta(t, 400, float64(m.Water), 1e-9)
	assert.Equal(t, "1+4", m.Dilution.String())
	m = mixed(t, darkroom.MixSpec{Percent: 10, Total: 500})
	assert.InDelta(t, 50, m.Grams, 1e-12)
	assert.Nil(t, m.Measuring)
	assert.False(t, m.Dilution.Stated())
	m = mixed(t, darkroom.MixSpec{Percent: 10, StockPercent: 10, Total: 500})
	assert.Equal(t, "stock", m.Dilution.String())
	_, err := darkroom.NewMix(darkroom.MixSpec{Percent: 10, StockPercent: 2, Total: 500})
	assert.ErrorAs(t, err, new(*sensito.Unanswerable))
	assert.EqualError(t, err, "10 % cannot be made of a solution of 2 %")
}

func TestMixOverAStockWanted(t *testing.T) {
	m := mixed(t, darkroom.MixSpec{Stock: parsed(t, "1+1"), Dilution: parsed(t, "1+3"), Total: 1000})
	assert.Equal(t, "1+7", m.Dilution.String())
	assert.InDelta(t, 125, float64(m.Concentrate), 1e-9)
	assert.InDelta(t, 250, float64(m.Stock), 1e-9)
	assert.InDelta(t, 875, float64(m.Water), 1e-9)
	require.Len(t, m.Measuring.Pours, 2)
	assert.InDelta(t, 0, m.Measuring.Strength, 1e-12)
	assert.InDelta(t, 2.5/125+5./1000, m.Measuring.Doubt, 1e-12, "all of the stock is poured on")

	// More than a graduate holds: water is measured, and how far the stock was
	// made up counts as little as its share of the whole.
	m = mixed(t, darkroom.MixSpec{Stock: parsed(t, "1+1"), Dilution: parsed(t, "1+3"), Total: 4000})
	assert.False(t, m.Measuring.Pours[1].TopUp)
	assert.InDelta(t, 2.5/500+(15.+5)/4000, m.Measuring.Doubt, 1e-12)
	assert.InDelta(t, 0, m.Measuring.Strength, 1e-12)

	// The stock undiluted, and a stock that is none.
	m = mixed(t, darkroom.MixSpec{Stock: parsed(t, "1+1"), Dilution: sensito.Undiluted, Total: 1000})
	assert.Equal(t, "1+1", m.Dilution.String())
	require.Len(t, m.Measuring.Pours, 1)
	m = mixed(t, darkroom.MixSpec{Stock: sensito.Undiluted, Dilution: parsed(t, "1+3"), Total: 1000})
	assert.Equal(t, "1+3", m.Dilution.String())
	assert.Zero(t, m.Stock)
}

// Rounding by hand: 18.75 ml read to 0.5 ml is 19 ml, and 19 ml in 600 ml is
// 1+30.58, 1.33 % stronger; half a mark is 0.25 of 19 ml and 5 of 600 ml.
func TestMixMeasuring(t *testing.T) {
	m := mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+31"), Total: 600})
	p := m.Measuring.Pours[0]
	assert.Equal(t, darkroom.Volume(19), p.Liquid.Volume)
	assert.Equal(t, darkroom.Volume(25), p.Liquid.Graduate.Capacity)
	assert.Equal(t, darkroom.Volume(600), p.Water.Volume)
	assert.InDelta(t, 600./19-1, m.Measuring.Dilution.Water, 1e-9)
	assert.InDelta(t, 19/18.75-1, m.Measuring.Strength, 1e-12)
	assert.InDelta(t, 0.25/19+5./600, m.Measuring.Doubt, 1e-12)
	assert.Nil(t, m.Instead)

	// Water that is measured has less of a say than water topped up to.
	m = mixed(t, darkroom.MixSpec{Concentrate: 500, Water: 500})
	assert.InDelta(t, 0.5*(2.5/500+2.5/500), m.Measuring.Doubt, 1e-12)

	// Own graduates.
	m = mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+31"), Total: 600, Graduates: []darkroom.Graduate{{Capacity: 50, Mark: 0.25}}})
	assert.Equal(t, darkroom.Volume(18.75), m.Measuring.Pours[0].Liquid.Volume)
	assert.Equal(t, 12, m.Measuring.Pours[0].Water.Fills, "581.25 ml of water in 50 ml")
}

// So little that no graduate reads it is measured over a stock.
func TestMixTooLittleToMeasure(t *testing.T) {
	m := mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+200"), Total: 100})
	assert.Equal(t, "hard_to_measure", warned(m))
	assert.Contains(t, m.Warnings[0].Message(), "make a stock first")
	require.NotNil(t, m.Instead)
	require.Len(t, m.Instead.Pours, 2)
	stock, work := m.Instead.Pours[0], m.Instead.Pours[1]
	assert.Equal(t, []darkroom.Volume{10, 100, 5, 100}, []darkroom.Volume{stock.Liquid.Volume, stock.Water.Volume, work.Liquid.Volume, work.Water.Volume})
	assert.Equal(t, darkroom.Volume(95), m.Instead.Left)
	assert.Equal(t, "1+199", m.Instead.Dilution.String())
	assert.Less(t, m.Instead.Doubt, 0.03)

	// Nothing is surer where the stock would not fit in.
	m = mixed(t, darkroom.MixSpec{Dilution: parsed(t, "1+1"), Total: 1})
	assert.Equal(t, "hard_to_measure", warned(m))
	assert.Nil(t, m.Instead)
	assert.Contains(t, m.Warnings[0].Message(), "a finer graduate or a syringe")
}

// Whatever is mixed: the volumes agree, what is measured gives the strength it
// says, and a way over a stock is surer and uses no more stock than it makes.
func TestMixProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := darkroom.MixSpec{Dilution: sensito.Dilution{Concentrate: rapid.Float64Range(0.5, 3).Draw(t, "concentrate"), Water: rapid.Float64Range(0.5, 220).Draw(t, "water")},
			Total: darkroom.Volume(rapid.Float64Range(20, 20_000).Draw(t, "total"))}
		if rapid.Bool().Draw(t, "over a stock") {
			spec.Stock = sensito.Dilution{Concentrate: 1, Water: rapid.Float64Range(0.5, 20).Draw(t, "stock")}
		}
		m, err := darkroom.NewMix(spec)
		require.NoError(t, err)
		require.InEpsilon(t, float64(spec.Total), float64(m.Concentrate+m.Water), 1e-9)
		require.InEpsilon(t, m.Dilution.Parts(), float64(m.Total/m.Concentrate), 1e-9)
		for _, way := range []*darkroom.Measuring{m.Measuring, m.Instead} {
			if way == nil {
				continue
			}
			require.InEpsilon(t, m.Dilution.Parts(), way.Dilution.Parts()*(1+way.Strength), 1e-9)
			for _, p := range way.Pours {
				for _, g := range []darkroom.Graduated{p.Liquid, p.Water} {
					marks := float64(g.Volume / g.Graduate.Mark)
					require.InDelta(t, math.Round(marks), marks, 1e-6)
					require.LessOrEqual(t, float64(g.Volume), float64(g.Fills)*float64(g.Graduate.Capacity)*(1+1e-9))
				}
			}
		}
		if m.Instead != nil {
			require.Less(t, math.Abs(m.Instead.Strength)+m.Instead.Doubt, math.Abs(m.Measuring.Strength)+m.Measuring.Doubt)
			require.GreaterOrEqual(t, float64(m.Instead.Left), 0.)
			require.LessOrEqual(t, float64(m.Instead.Pours[0].Liquid.Volume), 100.)
		}
	})
}

func TestMixRefuses(t *testing.T) {
	d := parsed(t, "1+19")
	for want, spec := range map[string]darkroom.MixSpec{
		"a volume is missing: state the total, the concentrate or the water":                           {Dilution: d},
		"the dilution is missing: state it, or two of concentrate, water and total":                    {Total: 500},
		"1+19 with the other volumes stated makes concentrate 50 ml, not 60 ml: leave one of them out": {Dilution: d, Total: 1000, Concentrate: 60},
		"1+19 with the other volumes stated makes water 950 ml, not 1000 ml: leave one of them out":    {Dilution: d, Concentrate: 50, Water: 1000},
		"500 ml in all leave no room for 600 ml":                                                       {Water: 600, Total: 500},
		"400 ml in all leave no room for 500 ml":                                                       {Concentrate: 500, Total: 400},
		"2000000 ml in all are more than 1000 l":                                                       {Dilution: d, Concentrate: 1e5},
		"1+20000 is outside 1+0 to 1+10000":                                                            {Concentrate: 0.05, Water: 1000},
		"a stock of 1+1 needs the dilution that is made of it":                                         {Stock: parsed(t, "1+1"), Total: 500},
		"a stock of 10 % needs the strength in percent that is made of it":                             {StockPercent: 10, Dilution: d, Total: 500},
		"a strength in percent does not go with a dilution":                                            {Percent: 2, Dilution: d, Total: 500},
		"a dry substance is dissolved and topped up: state the total":                                  {Percent: 2, Water: 500},
		"a least amount of concentrate needs the films":                                                {Dilution: d, Total: 500, Least: darkroom.Least{Concentrate: 6}},
		"films need so much of a concentrate; a strength in percent does not say how much that is":     {Percent: 2, Total: 500, Films: []sensito.Films{{Count: 1}}},
	} {
		_, err := darkroom.NewMix(spec)
		assert.EqualError(t, err, want)
		assert.False(t, err != nil && asUnanswerable(err), want)
	}
}
