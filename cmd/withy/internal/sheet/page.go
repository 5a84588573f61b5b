package sheet

import (
	_ "embed" // of the page
	"html/template"
	"io"
)

//go:embed page.html
var pageHTML string

// page is the page to print: black on white, nothing from elsewhere, no script.
var page = template.Must(template.New("plan").Parse(pageHTML))

// WriteHTML writes the sheet as a page to print. Its errors are the writer's.
func (s *Sheet) WriteHTML(w io.Writer) error { return page.Execute(w, s) }
