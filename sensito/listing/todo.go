package listing

import (
	"cmp"
	"slices"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// TaskKind says what is to be done.
type TaskKind string

// The kinds of tasks, the most urgent first.
const (
	TaskProcess    TaskKind = "process"    // a process has left its aim: set it right, or correct for it
	TaskQuestioned TaskKind = "questioned" // a reading cannot belong to the curve: read it again
	TaskUnread     TaskKind = "unread"     // steps, or base plus fog, have no reading: read them
	TaskUnreadable TaskKind = "unreadable" // a file cannot be read: mend it
	TaskStrips     TaskKind = "strips"     // strips are too few for times: develop more
)

// taskKinds are in the order of their urgency.
var taskKinds = []TaskKind{TaskProcess, TaskQuestioned, TaskUnread, TaskUnreadable, TaskStrips}

// TimesFrom is of how many different times the strips of a film should be for its times to
// be more than a guess.
const TimesFrom = 3

// Task is one thing that a notebook asks to be done. What is not of its kind is zero.
// The sentence is answers.Task.
type Task struct {
	Kind  TaskKind
	Entry Entry // the file, with its trial or control log

	// Strip is the one whose readings are asked for.
	Strip *sensito.Strip

	// Reading is the one to be made again, for TaskQuestioned.
	Reading *curve.SetAside

	// Steps are to be read, for TaskUnread; empty where Base is set, which asks for base
	// plus fog.
	Steps []int
	Base  bool

	// More is how many strips, each for another time, are wanted for TaskStrips.
	More int
}

// ToDo returns what is to be done in the notebook, the most urgent first: by kind, and of
// one kind the newest file first. It is empty where nothing is.
func (n *Notebook) ToDo() []Task {
	out := []Task{}
	for _, e := range n.Entries {
		switch {
		case e.Err != nil:
			out = append(out, Task{Kind: TaskUnreadable, Entry: e})
		case e.Control != nil && e.Control.Control != nil && e.Control.Control.First != nil:
			out = append(out, Task{Kind: TaskProcess, Entry: e})
		case e.Trial != nil:
			out = append(out, e.Trial.toDo(e)...)
		}
	}
	slices.SortStableFunc(out, func(a, b Task) int {
		return cmp.Compare(slices.Index(taskKinds, a.Kind), slices.Index(taskKinds, b.Kind))
	})
	return out
}

// toDo returns what a trial asks for.
func (s *Trial) toDo(e Entry) []Task {
	var out []Task
	film := s.Trial.Material() == sensito.FilmMaterial
	for _, strip := range s.Strips {
		if strip.CopyOf() > 0 {
			continue
		}
		for _, q := range strip.Questioned {
			out = append(out, Task{Kind: TaskQuestioned, Entry: e, Strip: strip.Strip, Reading: &q})
		}
		switch {
		case strip.StepsRead() == 0:
			out = append(out, Task{Kind: TaskUnread, Entry: e, Strip: strip.Strip, Steps: strip.Unread})
			continue
		case len(strip.Unread) > 0:
			out = append(out, Task{Kind: TaskUnread, Entry: e, Strip: strip.Strip, Steps: strip.Unread})
		}
		if film && len(strip.BaseFog()) == 0 {
			out = append(out, Task{Kind: TaskUnread, Entry: e, Strip: strip.Strip, Base: true})
		}
	}
	if more := TimesFrom - len(s.times()); film && more > 0 {
		out = append(out, Task{Kind: TaskStrips, Entry: e, More: more})
	}
	return out
}
