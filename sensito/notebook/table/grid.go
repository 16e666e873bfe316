package table

// grid is the cells of a table as text, whatever file they came from. A row may be shorter than another; a cell that a file
// leaves out is the empty text.
type grid struct {
	name  string     // of the file, and of the sheet in it if there are sheets
	rows  [][]string // cells, without the blanks around them
	lines []int      // where each row came from: its line in a text file, its row number in a sheet; from 1
}
