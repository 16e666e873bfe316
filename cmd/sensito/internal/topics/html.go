package topics

import (
	"bytes"
	"fmt"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// HTML returns the topic in HTML, without its title. HTML within it is left out. Each
// term, which is what begins an item of a list in bold letters, is an element of the
// identifier that id returns.
func (t Topic) HTML(id func(term string) string) (string, error) {
	source := []byte(t.Text)
	md := goldmark.New(goldmark.WithExtensions(extension.NewTable(extension.WithTableCellAlignMethod(extension.TableCellAlignNone))),
		goldmark.WithRendererOptions(renderer.WithNodeRenderers(util.Prioritized(&blocks{}, 100))))
	doc := md.Parser().Parse(text.NewReader(source))
	used := map[string]bool{}
	err := ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		strong, is := n.(*ast.Emphasis)
		if !entering || !is || strong.Level != 2 || !begins(strong) {
			return ast.WalkContinue, nil
		}
		if name := id(plainText(strong, source)); name != "" && !used[name] {
			used[name] = true
			strong.SetAttributeString("id", []byte(name))
		}
		return ast.WalkContinue, nil
	})
	if err != nil {
		return "", err
	}
	var out bytes.Buffer
	err = md.Renderer().Render(&out, source, doc)
	return out.String(), err
}

// begins says whether what is in bold letters stands in an item of a list.
func begins(n ast.Node) bool {
	for p := n.Parent(); p != nil; p = p.Parent() {
		if p.Kind() == ast.KindListItem {
			return true
		}
	}
	return false
}

// plainText returns the text within a node.
func plainText(n ast.Node, source []byte) string {
	var out bytes.Buffer
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		if t, is := c.(*ast.Text); is {
			out.Write(t.Segment.Value(source))
		}
	}
	return out.String()
}

// blocks renders blocks of code, which scroll, so that the keyboard reaches them. Each has a
// name of its own.
type blocks struct{ rendered int }

func (b *blocks) RegisterFuncs(r renderer.NodeRendererFuncRegisterer) {
	r.Register(ast.KindFencedCodeBlock, b.render)
}

func (b *blocks) render(w util.BufWriter, source []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if !entering {
		fmt.Fprint(w, "</code></pre>\n")
		return ast.WalkContinue, nil
	}
	b.rendered++
	fmt.Fprintf(w, `<pre tabindex="0" role="region" aria-label="Example %d"><code>`, b.rendered)
	for i := range n.Lines().Len() {
		line := n.Lines().At(i)
		html.DefaultWriter.RawWrite(w, line.Value(source))
	}
	return ast.WalkContinue, nil
}
