package development

import (
	"fmt"
	"sync"

	"sensito/fit"
	"sensito/sensito"
)

// MeasuredParts remembers parts that have been propagated, by their conditions,
// with the degrees of freedom behind them. Many may ask at once.
type MeasuredParts struct {
	mu    sync.Mutex
	known map[string]propagatedParts
}

type propagatedParts struct {
	parts fit.Derived
	dof   float64
}

// Of returns the parts for the conditions, by the function the first time. Its error
// is returned and not remembered.
func (p *MeasuredParts) Of(conditions []sensito.Condition, parts func() (fit.Derived, float64, error)) (fit.Derived, float64, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	key := fmt.Sprint(conditions)
	if known, ok := p.known[key]; ok {
		return known.parts, known.dof, nil
	}
	d, dof, err := parts()
	if err == nil {
		if p.known == nil {
			p.known = map[string]propagatedParts{}
		}
		p.known[key] = propagatedParts{d, dof}
	}
	return d, dof, err
}
