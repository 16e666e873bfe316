package notebook

import "sensito/sensito"

// maxDone is more developments than anybody logs for one trial.
const maxDone = 10_000

var doneKeys = []string{"date", "planned_minutes", "planned_c", "minutes", "temperature_c", "ended_c", "films", "note"}

// readDone returns the developments that were carried out, [[done]].
func readDone(root *table) []sensito.Done {
	if root.has("done") && kindOf(root.values["done"]) == "a table" {
		root.add("done", "must be written [[done]], in double brackets")
		return nil
	}
	list := root.list("done", "a list of tables")
	if len(list) > maxDone {
		root.add(element("done", maxDone), "brings the file to more than %d developments", maxDone)
		root.hide("done")
		return nil
	}
	var done []sensito.Done
	for i, v := range list {
		t := &table{faults: root.faults, path: element("done", i)}
		var ok bool
		if t.values, ok = v.(map[string]any); !ok {
			t.wrong(t.path, "a table", v)
		}
		t.refuseOthers(doneKeys)
		t.need("date")
		t.need("minutes")
		d := sensito.Done{
			Date:         readDateOf(t, "date"),
			Planned:      minutesIfKnown(t, "planned_minutes"),
			PlannedC:     t.nonzero("planned_c"),
			Minutes:      readMinutesOf(t, "minutes"),
			TemperatureC: t.nonzero("temperature_c"),
			EndedC:       t.nonzero("ended_c"),
			Note:         t.text("note"),
		}
		if t.has("films") {
			var err error
			if d.Films, err = sensito.ParseFilms(t.text("films")); err != nil && !t.hidden(t.key("films")) {
				t.add(t.key("films"), "%v", err)
			}
		}
		done = append(done, d)
	}
	return done
}
