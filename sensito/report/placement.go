package report

import (
	"fmt"

	"sensito/sensito"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// placementText says how the index and the scene lie on the film.
func placementText(s scene.Scene) string {
	p := s.Placement()
	text := "The index lays an even tone " + page.Plain(p.ShadowStops) + " stops below the metered one, without flare, on the speed point"
	if p.Darkest == -p.ShadowStops {
		return text + "; the darkest tone with detail is that far below."
	}
	return text + "; the darkest tone with detail is " + page.Plain(-p.Darkest) + " stops below."
}

func flareName(f sensito.Flare) string {
	switch f.Kind {
	case sensito.FlareNone:
		return "no flare"
	case sensito.FlareVeil:
		return fmt.Sprintf("flare: a veil of %g of the highlights", f.Value)
	}
	loss := f.Value
	if loss == 0 {
		loss = sensito.DefaultFlareLoss
	}
	return fmt.Sprintf("flare takes %.2f", loss)
}
