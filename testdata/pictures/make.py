#!/usr/bin/env python3
"""Writes the pictures of this folder anew, by libtiff's tools and ImageMagick: python3 make.py

Every picture is 21 x 19 pixels. The value of channel c (grey is 0) at x, y is (2621 x + 1987 y + 31 x y + 20011 c) mod
65536, its upper byte in 8 bits, unless the name says otherwise. TestVariants and TestRefused say what is expected.
"""
import os
import pathlib
import struct
import subprocess
import sys
import tempfile

W, H = 21, 19
here = pathlib.Path(__file__).resolve().parent
os.chdir(here)
work = pathlib.Path(tempfile.mkdtemp())


def run(*args):
    args = [str(a) for a in args]
    if args[-1].endswith(".png"):
        args[-1:-1] = ["-define", "png:exclude-chunks=date,time"]  # else no two runs are alike
    subprocess.run(args, check=True, stderr=subprocess.DEVNULL)


def value(c, x, y):
    return (2621 * x + 1987 * y + 31 * x * y + 20011 * c) % 65536


def raw(name, channels, bits, order=">", filled=None):
    out = bytearray()
    for y in range(H):
        for x in range(W):
            for c in range(channels):
                v = value(c, x, y) if filled is None or c < channels - 1 else filled(x, y)
                out += struct.pack(order + "H", v) if bits == 16 else bytes([v >> 8])
    (work / name).write_bytes(out)
    return work / name


for f in here.iterdir():
    if f.suffix in (".tif", ".png", ".jpg"):
        f.unlink()

# Plain TIFF files, from which tiffcp makes the others.
plain = {}
for kind, channels, bits in [("grey8", 1, 8), ("grey16", 1, 16), ("rgb8", 3, 8), ("rgb16", 3, 16), ("four8", 4, 8), ("four16", 4, 16)]:
    plain[kind] = work / (kind + ".tif")
    photo = ["-p", "rgb"] if channels > 1 else []
    run("raw2tiff", "-w", W, "-l", H, "-b", channels, "-d", "byte" if bits == 8 else "short", "-c", "none", *photo, raw(kind, channels, bits, "<"), work / "lsb.tif")
    run("tiffcp", "-f", "msb2lsb", "-r", 100, work / "lsb.tif", plain[kind])

for kind in ["grey8", "grey16", "rgb8", "rgb16"]:
    for order, flag in [("le", "-L"), ("be", "-B")]:
        run("tiffcp", flag, "-r", 5, plain[kind], f"{kind}-none-{order}.tif")
        run("tiffcp", flag, "-r", 7, "-c", "lzw:2", plain[kind], f"{kind}-lzw-predictor-{order}.tif")
    run("tiffcp", "-t", "-w", 16, "-l", 16, "-c", "zip:2", plain[kind], f"{kind}-tiles-deflate-predictor.tif")
    run("tiffcp", "-r", 4, "-c", "packbits", plain[kind], f"{kind}-packbits.tif")
for kind in ["grey16", "rgb8"]:
    run("tiffcp", "-c", "lzw", plain[kind], f"{kind}-lzw.tif")
    run("tiffcp", "-c", "zip", "-r", 1, plain[kind], f"{kind}-deflate.tif")
run("tiffcp", "-B", "-t", "-w", 32, "-l", 16, "-c", "packbits", plain["rgb16"], "rgb16-tiles-packbits-be.tif")
run("tiffcp", "-t", "-w", 16, "-l", 32, plain["grey8"], "grey8-tiles.tif")
for bits in [8, 16]:
    run("raw2tiff", "-w", W, "-l", H, "-b", 1, "-d", "byte" if bits == 8 else "short", "-c", "none", "-p", "miniswhite", work / f"grey{bits}", work / "lsb.tif")
    run("tiffcp", "-f", "msb2lsb", "-c", "lzw:2", work / "lsb.tif", f"grey{bits}-white-is-zero.tif")
for n in range(1, 9):
    run("tiffcp", "-c", "zip", plain["grey8"], f"grey8-orientation-{n}.tif")
    run("tiffset", "-s", 274, n, f"grey8-orientation-{n}.tif")
run("tiffcp", "-c", "lzw", plain["rgb16"], plain["rgb16"], plain["grey8"], "rgb16-three-pages.tif")
run("tiffcp", "-c", "lzw:2", plain["four8"], "rgb8-infrared.tif")
run("tiffcp", "-c", "zip:2", plain["four16"], "rgb16-infrared.tif")
run("tiffcp", plain["rgb16"], "rgb16-told.tif")
for tag, text in [(271, "Harrow Quay"), (272, "Bed 4"), (305, "scanner of the trust")]:
    run("tiffset", "-s", tag, text, "rgb16-told.tif")
run("tiffset", "-s", 296, 3, "rgb16-told.tif")
run("tiffset", "-s", 282, 500.0, "rgb16-told.tif")
run("tiffset", "-s", 283, 500.0, "rgb16-told.tif")

# By the other program.
deep = ["-size", f"{W}x{H}", "-depth", 16, "-endian", "MSB"]
byte = ["-size", f"{W}x{H}", "-depth", 8]
grey16, rgb16 = f"gray:{raw('g16', 1, 16)}", f"rgb:{raw('c16', 3, 16)}"
grey8, rgb8 = f"gray:{raw('g8', 1, 8)}", f"rgb:{raw('c8', 3, 8)}"
whole, holes = raw("whole", 4, 16, filled=lambda x, y: 65535), raw("holes", 4, 16, filled=lambda x, y: 65535 - 300 * (x == 3))
run("convert", *deep, grey16, "-compress", "LZW", "grey16-other-lzw.tif")
run("convert", *deep, rgb16, "-compress", "Zip", "-define", "tiff:endian=msb", "rgb16-other-deflate.tif")
run("convert", *byte, rgb8, "-compress", "RLE", "rgb8-other-packbits.tif")
run("convert", *byte, grey8, "-define", "quantum:polarity=min-is-white", "-compress", "None", "grey8-other-white-is-zero.tif")
run("convert", *deep, f"rgba:{whole}", "-compress", "LZW", "rgb16-alpha-whole.tif")
run("convert", *deep, f"rgba:{holes}", "-compress", "LZW", "refused-alpha.tif")

for kind, size, source in [("grey16", deep, grey16), ("rgb16", deep, rgb16), ("grey8", byte, grey8), ("rgb8", byte, rgb8)]:
    color = 0 if kind.startswith("grey") else 2
    own = ["-define", f"png:color-type={color}", "-define", f"png:bit-depth={kind.removeprefix('grey').removeprefix('rgb')}"]
    run("convert", *size, source, *own, f"{kind}-plain.png")
    run("convert", *size, source, *own, "-interlace", "PNG", f"{kind}-interlaced.png")
run("convert", *deep, f"rgba:{whole}", "-define", "png:color-type=6", "-define", "png:bit-depth=16", "rgb16-alpha-whole.png")
run("convert", *deep, f"rgba:{holes}", "-define", "png:color-type=6", "-define", "png:bit-depth=16", "refused-alpha.png")
run("convert", *deep, grey16, "-define", "png:color-type=0", "-define", "png:bit-depth=16", "-define", "png:include-chunk=gAMA", "-set", "gamma", "0.45455",
    "-units", "PixelsPerInch", "-density", "600", "-set", "Software", "scanner of the trust", "grey16-told.png")

# Refused.
run("tiffcp", "-8", plain["grey16"], "refused-bigtiff.tif")
run("convert", *deep, rgb16, "-interlace", "Plane", "-compress", "None", "refused-separate.tif")
run("tiffcp", "-f", "lsb2msb", plain["rgb16"], "refused-fill-order.tif")
run("tiffcp", "-c", "jpeg", plain["rgb8"], "refused-jpeg.tif")
run("tiffcp", "-c", "lzma", plain["grey16"], "refused-lzma.tif")
run("convert", *byte, rgb8, "-colors", "16", "-type", "Palette", "refused-palette.tif")
run("convert", *byte, rgb8, "-colorspace", "CMYK", "-compress", "LZW", "refused-cmyk.tif")
run("convert", *deep, rgb16, "-depth", 32, "-define", "quantum:format=floating-point", "-compress", "Zip", "refused-float.tif")
run("convert", *deep, grey16, "-depth", 32, "-compress", "Zip", "refused-32-bits.tif")
run("convert", *byte, grey8, "-depth", 4, "-compress", "None", "refused-4-bits.tif")
run("convert", *byte, grey8, "-monochrome", "-compress", "Group4", "refused-fax.tif")
run("convert", *byte, rgb8, "-colorspace", "Lab", "-compress", "LZW", "refused-lab.tif")
run("convert", *byte, rgb8, "-colors", "16", "-type", "Palette", "PNG8:refused-palette.png")
run("convert", *byte, grey8, "-monochrome", "-define", "png:bit-depth=1", "-define", "png:color-type=0", "refused-1-bit.png")
run("convert", *byte, grey8, "-depth", 4, "-define", "png:bit-depth=4", "-define", "png:color-type=0", "refused-4-bits.png")

# JPEG loses a little; a smooth ramp loses a level or two.
ramp = work / "ramp"
ramp.write_bytes(bytes(v for y in range(H) for x in range(W) for v in (40 + 4 * x, 60 + 5 * y, 200 - 3 * x - 2 * y)))
run("convert", *byte, f"rgb:{ramp}", "-quality", 98, "-sampling-factor", "1x1", "-density", 300, "-units", "PixelsPerInch", "ramp.jpg")
run("convert", *byte, f"rgb:{ramp}", "-quality", 98, "-sampling-factor", "1x1", "-interlace", "JPEG", "ramp-progressive.jpg")
run("convert", *byte, f"rgb:{ramp}", "-channel", "R", "-separate", "-quality", 98, "ramp-grey.jpg")
run("convert", *byte, f"rgb:{ramp}", "-colorspace", "CMYK", "refused-cmyk.jpg")

if "--rows" in sys.argv:  # of testdata/SOURCES.md
    import hashlib
    for f in sorted(here.iterdir()):
        used = "TestOrientations" if "orientation" in f.name else "TestRefused" if f.name.startswith("refused") else "TestJPEG" if f.suffix == ".jpg" else "TestVariants"
        by = "script that writes the pictures of this folder" if f.suffix == ".py" else "synthetic, by make.py of the folder: libtiff 4.5 and ImageMagick 6.9"
        print(f"| `pictures/{f.name}` | {by} | own | sensito/notebook/pictures: {used} | `{hashlib.sha256(f.read_bytes()).hexdigest()}` |")
