// Package developed draws what was developed, against its dates. Begin with Log.
package developed
