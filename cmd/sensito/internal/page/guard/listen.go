package guard

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A UsageError is an option that cannot be carried out as given.
type UsageError struct{ error }

func (u UsageError) Unwrap() error { return u.error }

// A door is a listener and what goes for whoever comes in by it.
type door struct {
	net.Listener
	address string   // with the port
	hosts   []string // by which it may be asked for
	local   bool     // this machine alone
	life    time.Duration
}

// loopback is the address of a machine for itself.
var loopback = netip.AddrFrom4([4]byte{127, 0, 0, 1})

// How long a browser is let in without asking again. What goes through the air in
// the clear is good for one session of work.
const (
	localLife  = 30 * 24 * time.Hour
	deviceLife = 24 * time.Hour
)

// newDoor opens the listener of an address.
func newDoor(address netip.Addr, port int) (*door, error) {
	l, err := net.Listen("tcp", net.JoinHostPort(address.String(), strconv.Itoa(port)))
	if err != nil {
		return nil, err
	}
	d := &door{Listener: l, address: l.Addr().String(), local: address == loopback, life: deviceLife}
	host := strings.TrimSuffix(d.address, fmt.Sprintf(":%d", d.port()))
	names := []string{host}
	if d.local {
		names, d.life = append(names, "localhost"), localLife
	}
	for _, name := range names {
		d.hosts = append(d.hosts, fmt.Sprintf("%s:%d", name, d.port()))
		if d.port() == 80 { // which a browser leaves out
			d.hosts = append(d.hosts, name)
		}
	}
	return d, nil
}

func (d *door) port() int { return d.Addr().(*net.TCPAddr).Port }

// is says whether a Host asks for this door.
func (d *door) is(host string) bool {
	return slices.ContainsFunc(d.hosts, func(own string) bool { return strings.EqualFold(host, own) })
}

// cookie is the name of the cookie, which says the port since cookies do not keep
// ports apart.
func (d *door) cookie() string { return fmt.Sprintf("sensito-%d", d.port()) }

// openDoors opens the listeners, of which listen, unless "", is the address of the
// second, all with one port: the one given, else the last one where that is free,
// else any.
func openDoors(listen string, given, last int, machine func() ([]netip.Addr, error)) ([]*door, error) {
	addresses := []netip.Addr{loopback}
	if listen != "" {
		other, err := listenAddress(listen, machine)
		if err != nil {
			return nil, UsageError{err}
		}
		addresses = append(addresses, other)
	}
	if given < 0 || given > 65535 {
		return nil, UsageError{fmt.Errorf("port %d is not one of 1 to 65535", given)}
	}
	if given != 0 {
		doors, err := openAll(addresses, given)
		if err != nil {
			return nil, fmt.Errorf("port %d cannot be had, which another server may have; another port will do: %w", given, err)
		}
		return doors, nil
	}
	var doors []*door
	var err error
	for _, port := range []int{last, 0, 0, 0, 0} { // of any port the other address may not be free
		if doors, err = openAll(addresses, port); err == nil {
			return doors, nil
		}
	}
	return nil, err
}

// openAll opens a listener at each address with the port, or none.
func openAll(addresses []netip.Addr, port int) (doors []*door, err error) {
	for _, address := range addresses {
		d, err := newDoor(address, port)
		if err != nil {
			closeAll(doors)
			return nil, err
		}
		doors, port = append(doors, d), d.port()
	}
	return doors, nil
}

func closeAll(doors []*door) {
	for _, d := range doors {
		d.Close()
	}
}

// listenAddress returns the address that other devices shall find the page at:
// one of those of this machine.
func listenAddress(text string, machine func() ([]netip.Addr, error)) (netip.Addr, error) {
	address, err := netip.ParseAddr(text)
	if err != nil {
		return address, fmt.Errorf("--listen %q is not an address such as 192.168.1.20, without port", text)
	}
	address = address.Unmap()
	if address.IsUnspecified() {
		return address, fmt.Errorf("--listen %s stands for every network that this machine is in; name one address", text)
	}
	own, err := machine()
	if err != nil {
		return address, err
	}
	if slices.Contains(own, address) {
		return address, nil
	}
	if len(own) == 0 {
		return address, fmt.Errorf("--listen %s: this machine is in no network", text)
	}
	var names []string
	for _, a := range own {
		names = append(names, a.String())
	}
	return address, fmt.Errorf("--listen %s is not an address at which other devices find this machine: it has %s", text, strings.Join(names, ", "))
}

// machineAddresses returns the addresses of this machine that other devices can
// find it at and a browser can be told of.
func machineAddresses() ([]netip.Addr, error) {
	found, err := net.InterfaceAddrs()
	if err != nil {
		return nil, errors.New("the addresses of this machine cannot be found out: " + err.Error())
	}
	var own []netip.Addr
	for _, f := range found {
		if n, ok := f.(*net.IPNet); ok {
			if a, ok := netip.AddrFromSlice(n.IP); ok && a.Unmap().IsGlobalUnicast() {
				own = append(own, a.Unmap())
			}
		}
	}
	return own, nil
}
