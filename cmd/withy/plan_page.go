package main

import (
	_ "embed" // of the page
	"html/template"
	"io"
)

//go:embed plan_page.html
var pageHTML string

// planPage is the page to print: black on white, nothing from elsewhere, no script.
var planPage = template.Must(template.New("plan").Parse(pageHTML))

// writeHTML writes the sheet as a page.
func (s *sheet) writeHTML(w io.Writer) error { return planPage.Execute(w, s) }
