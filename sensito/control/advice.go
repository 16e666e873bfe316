package control

import "slices"

// What a change of the three quantities usually means; 0 in a row is no sure
// change. The first row that fits is given. Common practice, no source.
var controlCauses = []struct {
	fog, low, difference int
	pattern, usually     string
}{
	{1, -1, -1, "fog up, densities and contrast down", "old or contaminated solution: fixer or stop bath carried into the developer, oxidation; fresh solution, clean vessels"},
	{1, 1, 1, "fog, low density and contrast up", "too much development: warmer, longer, stronger or more agitation than usual; check the thermometer against another"},
	{1, 1, 0, "fog and low density up, contrast as it was", "fog over the whole strip: safelight, light leak, old or warm-stored film; compare an unexposed strip of fresh film"},
	{1, 1, -1, "fog and low density up, contrast down", "fog over the whole strip that takes contrast with it: stray light, contamination, old film"},
	{1, 0, 0, "fog up", "contamination or stray light: clean the vessels, test the safelight; old film, or fixing that is not complete"},
	{1, 0, 1, "fog and contrast up", "too much development, or too little restrainer: check temperature, dilution and agitation"},
	{1, 0, -1, "fog up, contrast down", "contaminated or oxidised developer; fresh solution"},
	{1, -1, 0, "fog up, low density down", "two things at once: stray light or contamination, and less exposure of the strips or speed of the film"},
	{1, -1, 1, "fog and contrast up, low density down", "readings that contradict each other: check the densitometer's zero, and which patch is which"},
	{-1, 1, 1, "fog down, low density and contrast up", "another developer formula or another batch of film than the aim was made with"},
	{-1, -1, -1, "fog, low density and contrast down", "too little development: exhausted or oxidised developer, too cold, too short, too dilute, too little agitation"},
	{0, -1, -1, "densities down with contrast", "too little development: exhausted or oxidised developer, too cold, too short, too dilute, too little agitation"},
	{0, 1, 1, "densities up with contrast", "too much development: too warm, too long, too strong, or more agitation than usual"},
	{0, 0, -1, "contrast down, low density as it was", "too little development, seen first in the dense patch: weak or exhausted developer, less agitation, cold"},
	{0, 0, 1, "contrast up, low density as it was", "more development in the dense patch: stronger solution, warmer, more agitation"},
	{0, -1, 0, "low density down, contrast as it was", "less exposure or less speed, not development: lamp, voltage or shutter of the sensitometer, another batch of film, strips kept long since exposure"},
	{0, 1, 0, "low density up, contrast as it was", "more exposure or more speed, not development: lamp or shutter of the sensitometer, another batch of film"},
	{0, -1, 1, "low density down, contrast up", "restrainer or bromide built up, or another batch of film: replace the solution, and compare a strip of the old batch"},
	{0, 1, -1, "low density up, contrast down", "compensating or exhausted solution with longer time, or another batch of film"},
	{-1, 0, 0, "fog down", "the densitometer's zero, another batch of film, or more restrainer; seldom a fault"},
}

// firstOfAll is what to do on any signal.
var firstOfAll = Advice{"a signal",
	"check the densitometer first and develop a second strip at once; two in a row are taken as real, and work stops until the cause is found (NAVEDTRA 14208, chapter 2)"}

// advise looks up what the changes usually mean.
func (c *Evaluation) advise() {
	if c.First == nil {
		return
	}
	c.Advice = append(c.Advice, firstOfAll)
	at := func(quantity string) int { return c.levelOf(quantity).Direction() }
	fog, low, difference := at(QuantityBaseFog), at(QuantityLow), at(QuantityDifference)
	if fog == 0 && low == 0 && difference == 0 {
		c.Advice = append(c.Advice, Advice{"a signal, and a level that is not surely another", "a single strip at fault: its exposure, handling or reading; or a false signal, or a change too young to tell: go on with the next strip"})
		return
	}
	// Fog down with nothing else to say of it is passed over.
	for _, row := range controlCauses {
		if row.low == low && row.difference == difference && (row.fog == fog || fog < 0 && row.fog == 0) {
			c.Advice = append(c.Advice, Advice{row.pattern, row.usually})
			return
		}
	}
}

// Notes returns the numbers of the strips with a note from the one before the
// present change on, the earliest change of all quantities; nil when no chart
// speaks.
func (c *Evaluation) Notes() []int {
	from := 0
	for _, lv := range c.Levels {
		if lv.Since > 0 && (from == 0 || lv.Since < from) {
			from = lv.Since
		}
	}
	var out []int
	for i, s := range c.Log.spec.Strips {
		if from > 0 && i+1 >= max(1, from-1) && s.Note != "" {
			out = append(out, i+1)
		}
	}
	return slices.Clip(out)
}
