//go:build manual

// The manual is made when a package is made and is no part of the program for boards,
// so what it takes is not linked into that.

package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra/doc"
)

// init takes the verb "manual FOLDER CONFIGURATION", which writes the manual pages into
// a folder: one for each verb, and one for the configuration file, whose comments are
// its manual. Their date is SOURCE_DATE_EPOCH.
func init() {
	if len(os.Args) != 4 || os.Args[1] != "manual" {
		return
	}
	if err := writeManual(os.Args[2], os.Args[3]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(exitWrong)
	}
	os.Exit(exitDone)
}

func writeManual(folder, configuration string) error {
	epoch, err := strconv.ParseInt(os.Getenv("SOURCE_DATE_EPOCH"), 10, 64)
	if err != nil {
		return fmt.Errorf("SOURCE_DATE_EPOCH: %w", err)
	}
	date := time.Unix(epoch, 0).UTC()
	root := newRoot()
	root.DisableAutoGenTag = true
	header := &doc.GenManHeader{Section: "1", Source: "Withy", Manual: "Withy", Date: &date}
	if err := doc.GenManTree(root, header, folder); err != nil {
		return err
	}
	text, err := os.ReadFile(configuration)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, "withy.yaml.5"), configurationPage(text, date), 0o644)
}

// configurationPage is the manual of the configuration file.
func configurationPage(text []byte, date time.Time) []byte {
	var page bytes.Buffer
	fmt.Fprintf(&page, `.TH "WITHY.YAML" "5" "%s" "Withy" "Withy"
.SH NAME
withy.yaml \- what a board with Withy has and how it works
.SH DESCRIPTION
.B withy run
and
.B withy check
read it, by
.BR \-\-config ;
the package has it as
.IR /etc/withy/withy.yaml .
A file that it names is looked for in its own folder.
.PP
.B withy check
names each mistake with its line.
A board that has started once goes on with the last settings that were good, and says so on the page.
.PP
.B systemctl reload withy
has a running daemon read the file anew: all but probes, board, page and data counts at once.
What was set on the page goes before the file.
.SH ENVIRONMENT
Each key that is not in a list can be set in the environment too, which goes before the file: WITHY_ and the key in capitals, with _ for each dot, such as WITHY_PLACE_SHOP_C=12 for place.shop_c.
A value is written as in the file; an empty one counts for none.
.SH THE KEYS
All of them, with their defaults:
.PP
.EX
`, date.Format("Jan 2006"))
	for line := range strings.Lines(string(text)) {
		line = strings.ReplaceAll(line, `\`, `\e`)
		line = strings.ReplaceAll(line, "-", `\-`)
		if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
			line = `\&` + line
		}
		page.WriteString(line)
	}
	page.WriteString(`.EE
.SH SEE ALSO
.BR withy (1),
.BR withy\-run (1),
.BR withy\-check (1)
`)
	return page.Bytes()
}
