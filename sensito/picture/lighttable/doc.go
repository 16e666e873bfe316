// Package lighttable makes pictures of strips and step tablets on a light table or a
// scanner's glass, for tests alone; strips of paper under the lid of a scanner are seen by the same
// light, open glass being a white lid and a mask a black one: the density of each step and its place in pixels are known
// exactly, and nothing of the packages that read pictures is used but the form of an image.
//
// Begin with Beside, which lays a strip beside a tablet, and with Flatbed and Camera, the
// devices; Scene.Picture is the picture and Scene.Ends where its rows lie. A Scene can be
// turned, mirrored, made dirty, masked; PNG and TIFF are its files.
package lighttable
