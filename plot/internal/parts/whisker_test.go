package parts

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"
)

// A column holds nothing and all intervals but those far longer than the shortest.
func TestWhiskerColumn(t *testing.T) {
	first, near, far := &Whisker{}, &Whisker{XY: plotter.XY{X: 1}, Low: 0.5, High: 1.5}, &Whisker{XY: plotter.XY{X: 2}, Low: -50, High: 54}
	d := NewWhiskerColumn("speed, stops", 2, []*Whisker{first, near, nil, far})
	assert.Equal(t, -3.0, far.Y, "a row each")
	assert.Greater(t, d.axis.X.Max, 2.0)
	assert.Less(t, d.axis.X.Max, 10.0)
	assert.Less(t, d.axis.X.Min, 0.0)
	d = NewWhiskerColumn("fog", 2, []*Whisker{first, nil})
	assert.Less(t, d.axis.X.Min, d.axis.X.Max, "without any whisker there is an axis")
	assert.Equal(t, []string{"+0.40", "-0.40", "0.0", "0.0"}, []string{Signed(0.4, 2), Signed(-0.4, 2), Signed(0.04, 1), Signed(-0.04, 1)})
}

// No label of an axis reaches the next column, wherever its tick is.
func TestWhiskerColumnKeepsToItself(t *testing.T) {
	for i := range 40 {
		d := NewWhiskerColumn("", 3, []*Whisker{{}, {XY: plotter.XY{X: 0.0011 * float64(i)}, Low: -0.0047 - 0.0002*float64(i), High: 0.0049 + 0.0013*float64(i)}})
		var all recorder.Canvas
		c := draw.NewCanvas(&all, 60, 40)
		d.drawAxis(c)
		for _, a := range all.Actions {
			if s, ok := a.(*recorder.FillString); ok {
				assert.Greater(t, s.Point.X, c.Min.X-TableGap/2, s.String)
				assert.Less(t, s.Point.X+TextWidth(SmallSize, s.String), c.Max.X+TableGap/2, s.String)
			}
		}
	}
}

// A narrow table has two columns beside each other, and is as high as it says.
func TestWhiskerTable(t *testing.T) {
	table := WhiskerTable{Rows: []WhiskerRow{{Name: "Film in Ashlar", Short: "Ashlar", Detail: "5:00"}}}
	for range 4 {
		table.Columns = append(table.Columns, NewWhiskerColumn("", 2, []*Whisker{nil}))
	}
	for _, table.Narrow = range []bool{false, true} {
		const wide = 400
		high := table.Height(wide)
		cells := table.cells(Page(wide, high))
		assert.InDelta(t, float64(ColumnAxis), float64(cells[3].Min.Y), 1e-9)
		assert.Equal(t, table.Narrow, cells[2].Max.Y < cells[1].Min.Y)
		assert.Equal(t, vg.Length(wide), cells[3].Max.X)
	}
}
