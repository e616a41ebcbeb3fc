package phantom

import (
	"math"
	"runtime"
	"sync"
)

// layoutGrid tabulates the layout over the field.
type layoutGrid struct {
	x0, y0, stepUM float64
	columns, rows  int
	nodes          []layout
}

func newLayoutGrid(p *Parameters, f *frame, s *shape) *layoutGrid {
	// The field widened by what the tilts can add over the depth of the scan.
	depth := float64(p.Rows) * p.DepthUM
	halfX := float64(p.Columns)*p.LateralUM/2 + depth*math.Abs(f.sinA) + 60
	halfY := float64(p.Slices)*p.SliceUM/2 + depth*math.Abs(f.sinB) + 60
	g := &layoutGrid{stepUM: math.Min(8, p.LateralUM)}
	if sizeX, sizeY := halfX/g.stepUM, halfY/g.stepUM; sizeX*sizeY > 500_000 {
		g.stepUM *= math.Sqrt(sizeX * sizeY / 500_000)
	}
	g.x0, g.y0 = -halfX, -halfY
	g.columns, g.rows = int(2*halfX/g.stepUM)+2, int(2*halfY/g.stepUM)+2
	g.nodes = make([]layout, g.columns*g.rows)
	workers := runtime.GOMAXPROCS(0)
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() {
			for r := w; r < g.rows; r += workers {
				for c := range g.columns {
					g.nodes[r*g.columns+c] = s.layoutAt(g.x0+float64(c)*g.stepUM, g.y0+float64(r)*g.stepUM)
				}
			}
		})
	}
	group.Wait()
	return g
}

// at interpolates the layout; outside the table its edge holds.
func (g *layoutGrid) at(l *layout, x, y float64) {
	cx := math.Min(math.Max((x-g.x0)/g.stepUM, 0), float64(g.columns)-1.001)
	cy := math.Min(math.Max((y-g.y0)/g.stepUM, 0), float64(g.rows)-1.001)
	ix, iy := int(cx), int(cy)
	fx, fy := float32(cx-float64(ix)), float32(cy-float64(iy))
	a, b := &g.nodes[iy*g.columns+ix], &g.nodes[iy*g.columns+ix+1]
	c, d := &g.nodes[(iy+1)*g.columns+ix], &g.nodes[(iy+1)*g.columns+ix+1]
	wa, wb, wc, wd := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
	l.top = wa*a.top + wb*b.top + wc*c.top + wd*d.top
	l.plexiform = wa*a.plexiform + wb*b.plexiform + wc*c.plexiform + wd*d.plexiform
	l.druse = wa*a.druse + wb*b.druse + wc*c.druse + wd*d.druse
	l.floor = wa*a.floor + wb*b.floor + wc*c.floor + wd*d.floor
	l.disorder = wa*a.disorder + wb*b.disorder + wc*c.disorder + wd*d.disorder
	l.outerLost = wa*a.outerLost + wb*b.outerLost + wc*c.outerLost + wd*d.outerLost
	l.fibre = wa*a.fibre + wb*b.fibre + wc*c.fibre + wd*d.fibre
}
