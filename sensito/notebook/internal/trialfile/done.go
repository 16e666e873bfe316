package trialfile

import (
	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// maxDone is more developments than anybody logs for one trial.
const maxDone = 10_000

var doneKeys = []string{"date", "planned_minutes", "planned_c", "minutes", "temperature_c", "ended_c", "dilution", "agitation", "exposure_index", "for", "films", "baths", "note"}

// readDone returns the developments that were carried out, [[done]].
func readDone(root *grammar.Table) []sensito.Done {
	if root.Has("done") && grammar.KindOfValue(root.Values["done"]) == "a table" {
		root.Add("done", "must be written [[done]], in double brackets")
		return nil
	}
	list := root.List("done", "a list of tables")
	if len(list) > maxDone {
		root.Add(grammar.Element("done", maxDone), "brings the file to more than %d developments", maxDone)
		root.Hide("done")
		return nil
	}
	var done []sensito.Done
	for i, v := range list {
		t := &grammar.Table{Faults: root.Faults, Path: grammar.Element("done", i)}
		var ok bool
		if t.Values, ok = v.(map[string]any); !ok {
			t.Wrong(t.Path, "a table", v)
		}
		t.RefuseOthers(doneKeys)
		t.Need("date")
		t.Need("minutes")
		d := sensito.Done{
			Date:         DateOf(t, "date"),
			Planned:      MinutesIfKnown(t, "planned_minutes"),
			PlannedC:     t.Nonzero("planned_c"),
			Minutes:      MinutesOf(t, "minutes"),
			TemperatureC: t.Nonzero("temperature_c"),
			EndedC:       t.Nonzero("ended_c"),
			Dilution:     t.Text("dilution"),
			Agitation:    sensito.Agitation(t.Text("agitation")),
			Index:        sensito.Speed(t.Nonzero("exposure_index")),
			For:          t.Text("for"),
			Note:         t.Text("note"),
		}
		for j, v := range t.List("baths", "a list of names in quotes") {
			name, ok := v.(string)
			if !ok {
				t.Wrong(grammar.Element(t.Key("baths"), j), "text in quotes", v)
			}
			d.Baths = append(d.Baths, name)
		}
		if t.Has("films") {
			var err error
			if d.Films, err = sensito.ParseFilms(t.Text("films")); err != nil && !t.Hidden(t.Key("films")) {
				t.Add(t.Key("films"), "%v", err)
			}
		}
		done = append(done, d)
	}
	return done
}
