package screen

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/listing"
	"sensito/sensito/printable"
)

// A Notebook is the first screen: what is in the notebook, and what is to be done.
type Notebook struct {
	Lead    string
	Open    []Link  // sessions whose clock runs on, or whose end is not settled
	ToDo    [][]Run // at most MostTasks
	More    int     // tasks beyond those
	Entries []Entry
	Notes   []Note
	KeyIn   string // the address where a strip is keyed in
}

// A Link leads to another page, and says what is there.
type Link struct{ Address, Text, Says string }

// An Entry is a file of the notebook.
type Entry struct {
	Day     string // YYYY-MM-DD; "" for none
	Date    string // in words
	Title   string
	Address string
	Text    []Run // what it comes to
}

// MostTasks is how many tasks are told.
const MostTasks = 5

// mostOthers is how many names of other files are told.
const mostOthers = 8

// NewNotebook returns the screen of a notebook that was last changed at a time, the zero
// time for one that is not known.
func NewNotebook(n *listing.Notebook, changed time.Time, address Addresses) *Notebook {
	s := &Notebook{Lead: contents(n), KeyIn: "/strips/new"}
	if !changed.IsZero() {
		s.Lead += " Last changed on " + answers.DateOf(changed.Format(time.DateOnly)) + "."
	}
	tasks := n.ToDo()
	s.More = max(0, len(tasks)-MostTasks)
	for _, t := range tasks[:min(MostTasks, len(tasks))] {
		s.ToDo = append(s.ToDo, task(t, answers.Task(t), address(t.Entry.File)))
	}
	films := 0
	var procedures, tablets, others []string
	for _, e := range n.Entries {
		switch {
		case e.Procedure != nil:
			procedures = append(procedures, "“"+cmp.Or(e.Procedure.Title(), e.File)+"”")
			continue
		case e.Tablet != nil:
			tablets = append(tablets, "“"+cmp.Or(e.Tablet.Name, e.File)+"”")
			continue
		case isOther(e):
			others = append(others, e.File)
			continue
		case isOf(e, sensito.FilmMaterial):
			if films++; films == 1 {
				s.KeyIn = under(keying(address(e.File)), "/strips/new")
			} else {
				s.KeyIn = "/strips/new" // which asks for the trial
			}
		}
		s.Entries = append(s.Entries, Entry{Day: e.Date(), Date: answers.DateOf(e.Date()), Title: printable.Text(TitleOf(e)), Address: address(e.File), Text: entryText(e)})
	}
	s.Notes = []Note{{About: "Dates", Text: say("are those of the newest strip, or of the last development where no strip has one; undated files come last. Times are in minutes and seconds, for the conditions of the trial.")}}
	if len(procedures) > 0 {
		noun := "the procedure "
		if len(procedures) > 1 {
			noun = "the procedures "
		}
		s.Notes = append(s.Notes, Note{About: "Also here:", Text: say(noun + listed(procedures) + ".")})
	}
	if len(tablets) > 0 {
		noun := "the tablet "
		if len(tablets) > 1 {
			noun = "the tablets "
		}
		s.Notes = append(s.Notes, Note{About: "For pictures:", Text: say(noun + listed(tablets) + ".")})
	}
	if extra := len(others) - mostOthers; extra > 0 {
		others = append(others[:mostOthers], strconv.Itoa(extra)+" more")
	}
	if len(others) > 0 {
		s.Notes = append(s.Notes, Note{About: "Not of a notebook:", Text: say(listed(others) + ".")})
	}
	return s
}

// Empty says whether nothing of a notebook is in it.
func (s *Notebook) Empty() bool { return len(s.Entries) == 0 }

// TitleOf returns the title of an entry, or else the name of its file.
func TitleOf(e listing.Entry) string {
	switch {
	case e.Trial != nil:
		return cmp.Or(e.Trial.Trial.Title(), e.File)
	case e.Control != nil:
		return cmp.Or(e.Control.Log.Title(), e.File)
	}
	return e.File
}

func isOther(e listing.Entry) bool {
	return e.Err == nil && e.Trial == nil && e.Control == nil && e.Roll == nil && e.Procedure == nil && e.Tablet == nil
}

func isOf(e listing.Entry, m sensito.Material) bool {
	return e.Trial != nil && e.Trial.Trial.Material() == m
}

// entryText is what an entry comes to, time and index in bold.
func entryText(e listing.Entry) []Run {
	text := answers.Entry(e)
	t := e.Trial
	if t == nil || t.Normal == nil {
		return say(text)
	}
	index := ""
	if t.Index != nil {
		index = setting(t.Index.Value)
	}
	return bold(text, clock(t.Normal.Value), index)
}

// contents says how many files there are of each kind.
func contents(n *listing.Notebook) string {
	films, developed, papers := map[string]bool{}, map[string]bool{}, map[string]bool{}
	logs, rolls, procedures, broken := 0, 0, 0, 0
	for _, e := range n.Entries {
		switch {
		case e.Err != nil:
			broken++
		case isOf(e, sensito.PaperMaterial):
			papers[e.Trial.Trial.Film().Name] = true
		case e.Trial != nil:
			p := e.Trial.Trial.Process()
			films[e.Trial.Trial.Film().Name] = true
			developed[fmt.Sprintf("%q %q %q", e.Trial.Trial.Film().Name, p.Developer, p.Dilution)] = true
		case e.Control != nil:
			logs++
		case e.Roll != nil:
			rolls++
		case e.Procedure != nil:
			procedures++
		}
	}
	var parts []string
	add := func(n int, noun string) {
		if n > 0 {
			parts = append(parts, counted(n, noun))
		}
	}
	add(len(films), "film")
	if len(parts) > 0 {
		parts[0] += " in " + counted(len(developed), "development")
	}
	add(len(papers), "paper")
	add(logs, "control log")
	add(rolls, "roll")
	add(procedures, "procedure")
	add(broken, "file")
	if len(parts) == 0 {
		return "Nothing of a notebook."
	}
	if broken > 0 {
		parts[len(parts)-1] += " that cannot be read"
	}
	return capital(listed(parts)) + "."
}

// task returns what is to be done as a sentence whose act is a link to where it is done;
// at is the address of the file.
func task(t listing.Task, sentence, at string) []Run {
	words := ""
	switch t.Kind {
	case listing.TaskQuestioned, listing.TaskUnread:
		words, at = act(t), under(keying(at), stepPath(t))
	case listing.TaskProcess:
		words = act(t)
	case listing.TaskStrips:
		at = under(keying(at), "/strips/new")
	case listing.TaskUnreadable:
		words = printable.Text(t.Entry.File) + " cannot be read"
	}
	return linked(sentence, words, at)
}

// act are the words of a task that tell what to do.
func act(t listing.Task) string {
	switch q := t.Reading; {
	case q != nil && q.Step > 0:
		return fmt.Sprintf("read step %d again", q.Step)
	case t.Kind == listing.TaskProcess:
		text := answers.Task(t)
		return text[strings.LastIndex(text, ": ")+len(": "):]
	case t.Kind == listing.TaskUnread && t.Strip.NextStep() > 0 && !t.Base:
		return "go on there"
	case len(t.Steps) == 1:
		return fmt.Sprintf("step %d is not read", t.Steps[0])
	}
	return ""
}

// stepPath is where the reading of a task is keyed in, below the address of its trial.
func stepPath(t listing.Task) string {
	step := 0 // base plus fog
	switch {
	case t.Reading != nil:
		step = t.Reading.Step
	case !t.Base && len(t.Steps) > 0:
		step = t.Steps[0]
	}
	return stepAddress(t.Strip.Number(), step)
}

// stepAddress is where a step of a strip is keyed in, below the address of keying; step 0
// is the strip as a whole, with its base plus fog.
func stepAddress(strip, step int) string {
	if step == 0 {
		return fmt.Sprintf("/strips/%d", strip)
	}
	return fmt.Sprintf("/strips/%d/%d", strip, step)
}
