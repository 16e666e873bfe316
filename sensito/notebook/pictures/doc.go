// Package pictures reads picture files as values, exactly as the file has them: TIFF, PNG and JPEG, known by their
// content and never by the ending of their name. What could be read wrong without a sign is refused, in one sentence that
// says how to save the picture instead; what a file claims of itself is told and never used.
//
// Begin with OpenFile; Read takes what is open already, and From what a command or the local page opened.
//
// TIFF is read by this package, a row at a time, with the decompressors of compress/zlib and golang.org/x/image/tiff/lzw;
// DEVELOPERS.md says why. PNG and JPEG are read by the standard library, after a walk over the parts of the file.
package pictures
