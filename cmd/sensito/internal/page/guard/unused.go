package guard

import (
	"net"
	"net/http"
	"sync"
)

// unusedConns are connections by which nothing was asked yet, such as browsers
// open ahead, and which would keep a server from stopping.
type unusedConns struct {
	mu     sync.Mutex
	all    map[net.Conn]bool
	closed bool
}

func (u *unusedConns) note(c net.Conn, state http.ConnState) {
	u.mu.Lock()
	defer u.mu.Unlock()
	switch {
	case state != http.StateNew:
		delete(u.all, c)
	case u.closed:
		c.Close()
	case u.all == nil:
		u.all = map[net.Conn]bool{c: true}
	default:
		u.all[c] = true
	}
}

func (u *unusedConns) close() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.closed = true
	for c := range u.all {
		c.Close()
	}
}
