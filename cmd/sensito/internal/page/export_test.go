package page

import "time"

// SetNow has the server take another clock for that on the wall.
func (s *Server) SetNow(now func() time.Time) { s.now = now }
