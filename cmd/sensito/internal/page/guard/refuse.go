package guard

import (
	"html/template"
	"net/http"
)

// A refusal is a page that says why a request was not answered and what to do. It
// needs neither style nor script, since whoever is refused gets none.
type refusal struct {
	Title string
	Says  []string
	Code  bool // with a form to key the code in
	Again bool // with a link to the notebook
}

var refusalPage = template.Must(template.New("refusal").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{{.Title}} – sensito</title>
</head>
<body>
<main>
<h1>{{.Title}}</h1>
{{range .Says}}<p>{{.}}</p>
{{end}}{{if .Code}}<form method="post" action="/enter">
<p><label for="code">Code</label>
<input id="code" name="code" type="text" inputmode="numeric" autocomplete="one-time-code" maxlength="9" size="9" autofocus required>
<button>Open the notebook</button></p>
</form>
{{end}}{{if .Again}}<p><a href="/">Try again</a></p>
{{end}}</main>
</body>
</html>
`))

// refuse answers with a refusal.
func refuse(w http.ResponseWriter, status int, page refusal) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_ = refusalPage.Execute(w, page) // nobody may be there to read it
}

// plainly answers with a title and one sentence.
func plainly(w http.ResponseWriter, status int, title, says string) {
	refuse(w, status, refusal{Title: title, Says: []string{says}})
}
