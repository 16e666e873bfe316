package guard

import (
	"net/http"
	"net/url"
	"strings"
	"unicode"
	"unicode/utf8"
)

// pathFault returns what is wrong with the address of a request, "" when nothing
// is. Past it a path has no segment that leads up, no empty one in its midst, no
// separator that was encoded, and no character that does not show, however often
// it is decoded.
func pathFault(r *http.Request) string {
	u := r.URL
	switch {
	case u.IsAbs() || u.Host != "" || u.Opaque != "" || !strings.HasPrefix(u.Path, "/"):
		return "The request does not ask for a page of this server."
	case strings.Contains(strings.ToLower(u.EscapedPath()), "%2f"):
		return "The address has an encoded slash (%2F) in it."
	}
	if _, err := url.ParseQuery(u.RawQuery); err != nil {
		return "What follows the question mark in the address cannot be read."
	}
	for p := u.Path; ; {
		if fault := plainFault(p); fault != "" {
			return fault
		}
		decoded, err := url.PathUnescape(p)
		if err != nil || decoded == p {
			return ""
		}
		p = decoded // encoded more than once; it gets shorter each time
	}
}

// plainFault looks at a decoded path.
func plainFault(p string) string {
	switch {
	case !utf8.ValidString(p) || strings.ContainsFunc(p, unicode.IsControl):
		return "The address has a character in it that does not show."
	case strings.Contains(p, `\`):
		return `The address has a backslash (\) in it.`
	case strings.Contains(p, "//"):
		return "The address has two slashes (//) in a row."
	}
	for segment := range strings.SplitSeq(p, "/") {
		if segment == "." || segment == ".." {
			return "The address has a dot for a name in it."
		}
	}
	return ""
}

// under says whether a path is a folder's or below it.
func under(path, folder string) bool {
	return path == folder || strings.HasPrefix(path, folder+"/")
}
