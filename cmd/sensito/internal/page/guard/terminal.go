package guard

import (
	"bytes"
	"fmt"
	"io"
)

// begin prints all that gets one in.
func (g *Guard) begin() {
	g.showAddress()
	if len(g.doors) > 1 {
		g.warn("http://%s/ is plain HTTP: anybody in that network can read along, and with what they read write to the notebook as you. Use a network of your own, and stop the server when you are done", g.doors[1].address)
		g.showCode()
	}
	if g.in != nil {
		what := "a fresh address"
		if len(g.doors) > 1 {
			what += " and a new code"
		}
		g.say(g.err, "Enter here shows %s; Ctrl-C stops.\n", what)
	}
}

func (g *Guard) showAddress() { g.say(g.out, "%s?token=%s\n", g.Address(), g.entry.newToken()) }

func (g *Guard) showCode() {
	code := g.entry.newCode()
	g.say(g.err, "On one other device: http://%s/ and the code %s %s (%d tries, for %.0f minutes)\n",
		g.doors[1].address, code[:3], code[3:], codeTries, codeLife.Minutes())
}

// heed shows the ways in afresh whenever Enter is pressed.
func (g *Guard) heed() {
	typed := make([]byte, 256)
	for {
		n, err := g.in.Read(typed)
		if g.stopping.Err() != nil {
			return
		}
		if bytes.IndexByte(typed[:n], '\n') >= 0 {
			g.showAddress()
			if len(g.doors) > 1 {
				g.showCode()
			}
		}
		if err != nil {
			return
		}
	}
}

func (g *Guard) warn(format string, args ...any) {
	g.say(g.err, "sensito: warning: "+format+"\n", args...)
}

func (g *Guard) say(w io.Writer, format string, args ...any) {
	g.saying.Lock()
	defer g.saying.Unlock()
	fmt.Fprintf(w, format, args...)
}
