package lighttable

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// astray returns the share of a veil that falls on a rectangle from the corner below its
// source to x, y: the closed integral of s/(2π) (s²+x²+y²)^(-3/2), which is a solid angle.
func (v Veil) astray(x, y float64) float64 {
	return math.Atan(x*y/(v.S*math.Sqrt(x*x+y*y+v.S*v.S))) / (2 * math.Pi)
}

// on returns the share of a veil that falls on a rectangle, its source at the origin.
func (v Veil) on(left, top, right, bottom float64) float64 {
	return v.Share * (v.astray(right, bottom) - v.astray(left, bottom) - v.astray(right, top) + v.astray(left, top))
}

// glare adds to each pixel the light of all others that goes astray, and takes it where it
// came from. What lies beyond the frame has the light surround as far as beyond, in mm. Light is
// gathered in cells, a third of the shortest veil in size, since glare varies no faster.
func (c *canvas) glare(veils []Veil, surround, beyond float64) {
	shortest, lost := math.Inf(1), 0.0
	for _, v := range veils {
		shortest, lost = min(shortest, v.S), lost+v.Share
	}
	if lost == 0 {
		return
	}
	side := max(1, int(shortest/3/c.pixel+0.5)) // pixels
	cell := float64(side) * c.pixel
	nx, ny := (c.width+side-1)/side, (c.height+side-1)/side
	f := newFolding(2*nx, 2*ny)
	f.kernel(func(dx, dy int) float64 {
		x, y, share := float64(dx)*cell, float64(dy)*cell, 0.0
		for _, v := range veils {
			share += v.on(x-cell/2, y-cell/2, x+cell/2, y+cell/2)
		}
		return share
	}, nx, ny)
	around := make([]float64, nx*ny)
	width, height := float64(c.width)*c.pixel, float64(c.height)*c.pixel
	for i := range around {
		x, y := (float64(i%nx)+0.5)*cell, (float64(i/nx)+0.5)*cell
		for _, v := range veils {
			around[i] += surround * v.on(-x-beyond, -y-beyond, width-x+beyond, height-y+beyond)
		}
	}
	var last, veil []float64
	for k, light := range c.light {
		if k == 0 || &light[0] != &last[0] { // channels that are alike share their light
			veil = f.fold(c.cells(light, side, nx, ny, surround), nx, ny)
			for i := range veil {
				veil[i] += around[i]
			}
			c.spread(light, veil, side, nx, ny, 1-lost)
		}
		last = light
	}
}

// cells returns the light above surround that is in each cell, in light times its part that
// lies in the frame.
func (c *canvas) cells(light []float64, side, nx, ny int, surround float64) []float64 {
	sum := make([]float64, nx*ny)
	for y := range c.height {
		row, to := light[y*c.width:(y+1)*c.width], sum[y/side*nx:]
		for x, v := range row {
			to[x/side] += v - surround
		}
	}
	for i := range sum {
		sum[i] /= float64(side * side)
	}
	return sum
}

// spread makes light what is kept of it and the veil, which is interpolated between cells.
func (c *canvas) spread(light, veil []float64, side, nx, ny int, kept float64) {
	place := func(i, n int) (int, float64) {
		at := min(max((float64(i)+0.5)/float64(side)-0.5, 0), float64(n-1))
		j := min(int(at), max(n-2, 0))
		return j, at - float64(j)
	}
	across := make([]float64, nx)
	for y := range c.height {
		j, part := place(y, ny)
		for i := range across {
			across[i] = veil[j*nx+i]
			if part > 0 {
				across[i] += part * (veil[(j+1)*nx+i] - veil[j*nx+i])
			}
		}
		for x := range c.width {
			i, part := place(x, nx)
			v := across[i]
			if part > 0 {
				v += part * (across[i+1] - v)
			}
			at := y*c.width + x
			light[at] = kept*light[at] + v
		}
	}
}

// A folding convolves planes of numbers with one kernel by Fourier transforms.
type folding struct {
	w, h    int
	rows    *fourier.FFT
	columns *fourier.CmplxFFT
	by      []complex128
}

func newFolding(w, h int) *folding {
	w, h = smooth(w), smooth(h)
	return &folding{w: w, h: h, rows: fourier.NewFFT(w), columns: fourier.NewCmplxFFT(h)}
}

// smooth returns the least even number from n on without prime factors beyond 5, of which
// transforms are fast.
func smooth(n int) int {
	for n += n % 2; ; n += 2 {
		m := n
		for _, p := range []int{2, 3, 5} {
			for m%p == 0 {
				m /= p
			}
		}
		if m == 1 {
			return n
		}
	}
}

func (f *folding) kernel(at func(dx, dy int) float64, nx, ny int) {
	plane := make([]float64, f.w*f.h)
	for dy := range ny {
		for dx := range nx {
			v := at(dx, dy)
			for _, y := range [2]int{dy, (f.h - dy) % f.h} {
				plane[y*f.w+dx], plane[y*f.w+(f.w-dx)%f.w] = v, v
			}
		}
	}
	f.by = f.forward(plane)
}

func (f *folding) forward(plane []float64) []complex128 {
	n := f.w/2 + 1
	out := make([]complex128, n*f.h)
	for y := range f.h {
		f.rows.Coefficients(out[y*n:(y+1)*n], plane[y*f.w:(y+1)*f.w])
	}
	f.down(out, f.columns.Coefficients)
	return out
}

// down transforms each column.
func (f *folding) down(plane []complex128, by func(dst, src []complex128) []complex128) {
	n := f.w/2 + 1
	column := make([]complex128, f.h)
	for x := range n {
		for y := range column {
			column[y] = plane[y*n+x]
		}
		by(column, column)
		for y, v := range column {
			plane[y*n+x] = v
		}
	}
}

// fold returns nx by ny numbers convolved with the kernel; beyond them are zeros.
func (f *folding) fold(values []float64, nx, ny int) []float64 {
	plane := make([]float64, f.w*f.h)
	for y := range ny {
		copy(plane[y*f.w:], values[y*nx:(y+1)*nx])
	}
	c := f.forward(plane)
	for i := range c {
		c[i] *= f.by[i]
	}
	f.down(c, f.columns.Sequence)
	n, scale := f.w/2+1, 1/float64(f.w*f.h)
	row, out := make([]float64, f.w), make([]float64, nx*ny)
	for y := range ny {
		f.rows.Sequence(row, c[y*n:(y+1)*n])
		for x := range nx {
			out[y*nx+x] = row[x] * scale
		}
	}
	return out
}
