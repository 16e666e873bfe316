// Package guard stands before the handlers of the local page: it opens the
// listeners, lets in whoever has an address or a code from the terminal, refuses
// every request that is not of the page itself, bounds what a request may take,
// and stops without cutting off what runs. It knows nothing of what the page
// shows. Begin with New.
package guard
