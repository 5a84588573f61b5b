package browsertest

import (
	"regexp"
	"slices"
	"testing"
)

// What a screen reader is given of the page: the next call, both ends, the water, and of
// each picture a name or a table that says the same.
func TestReadOut(t *testing.T) {
	s := shop(t, "good", hot, 20)
	s.begin()
	p := browser(t).open(t, tablet, s.url)
	p.eval(`document.querySelectorAll("details").forEach((d) => { d.open = true; })`, nil)
	p.eval(`document.querySelector("#past").scrollIntoView()`, nil)
	p.wait(`document.querySelector("#plot-table td") && document.querySelector(".heat tbody tr")`)
	tree := p.tree()
	for _, want := range []struct{ role, within, says string }{
		{"heading", "", `^the Quill Slip, Marsh Lantern$`},
		{"region", "", `^What to do next$`},
		{"StaticText", "What to do next", `^Rib [1-4]$`},
		{"StaticText", "What to do next", `^Mark to (port|starboard)$`},
		{"button", "What to do next", `^Pulled [1-4] from [A-D]$`},
		{"StaticText", "The box and the water", `^steam end$`},
		{"StaticText", "The box and the water", `^door end$`},
		{"StaticText", "The box and the water", `^\d\d\.\d °C$`},
		{"image", "The box and the water", `^Water: \d\.\d L, dry in \d+ to \d+ min, for \d+ ribs, \d+ to go\.$`},
		{"list", "The box and the water", `^The box from above: steam end left, door right\.$`},
		{"StaticText", "The box and the water", `^Slot A: rib 1, \d+:\d\d in the box, steam end not yet, door end not yet\. Ready in \d+:\d\d\.$`},
		{"image", "The log so far", `^Temperatures of both ends over the session, with what the crew did\.$`},
		{"table", "The log so far", `^Temperatures of both ends over the session$`},
		{"image", "What can wait", `^.* from above as she lies: keel down, bow away from you, port to your left\.$`},
		{"table", "What can wait", `^Ribs from the bow$`},
		{"image", "What can wait", `^Scale of heat for .*\.$`},
		{"table", "What can wait", `^Ribs of this stick and how they bent$`},
		{"image", "What can wait", `^Where the boiler’s heat goes$`},
		{"table", "What can wait", `^Where the boiler’s heat goes$`},
		{"table", "", `^In minutes at 100 °C$`},
	} {
		says := regexp.MustCompile(want.says)
		if !slices.ContainsFunc(tree, func(n node) bool {
			return n.role == want.role && says.MatchString(n.name) && (want.within == "" || slices.Contains(n.within, want.within))
		}) {
			t.Errorf("no %s in %q that says %s", want.role, want.within, want.says)
		}
	}
	for _, n := range tree {
		if slices.Contains([]string{"image", "table", "button", "region", "link", "textbox", "combobox", "radio", "DisclosureTriangle"}, n.role) && n.name == "" {
			t.Errorf("a %s without a name, in %q", n.role, n.within)
		}
	}
	if t.Failed() {
		for _, n := range tree {
			t.Logf("%s %q in %q", n.role, n.name, n.within)
		}
	}
}

// node is one thing of the tree that screen readers are given, with the names of what it
// lies in.
type node struct {
	role, name string
	within     []string
}

// tree returns that tree, what lies out before what lies in it, without what is left out.
func (p *page) tree() []node {
	p.t.Helper()
	var got struct {
		Nodes []struct {
			NodeID, ParentID string
			Ignored          bool
			Role, Name       struct{ Value string }
		}
	}
	if err := p.c.ask(p.t.Context(), p.session, "Accessibility.getFullAXTree", nil, &got); err != nil {
		p.t.Fatal(err)
	}
	names := map[string][]string{} // of a node and all that it lies in
	var out []node
	for _, n := range got.Nodes {
		within := names[n.ParentID]
		names[n.NodeID] = append(slices.Clip(within), n.Name.Value)
		if !n.Ignored {
			out = append(out, node{n.Role.Value, n.Name.Value, within})
		}
	}
	return out
}
