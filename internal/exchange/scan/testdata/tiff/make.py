"""Writes the TIFF vectors of this folder with general-purpose libraries.

Run in this folder with Debian's python3-numpy, python3-pil and python3-tifffile
(made with numpy 1.24, Pillow 9.4.0 on libtiff 4.5, tifffile 2023.2.3):

    python3 make.py

Every file shows the same picture: row r, column c holds (7 r + 3 c + r c) mod
251, times 257 for 16 bits. 41 columns and 37 rows fit no strip and no tile.
"""
import numpy as np
import tifffile
from PIL import Image

r, c = np.mgrid[0:37, 0:41]
grey8 = ((7 * r + 3 * c + r * c) % 251).astype(np.uint8)
grey16 = grey8.astype(np.uint16) * 257

for name, compression in [("none", None), ("packbits", "packbits"), ("lzw", "tiff_lzw"), ("deflate", "tiff_adobe_deflate")]:
    Image.fromarray(grey8).save(f"pil-{name}-8.tif", compression=compression)
    Image.fromarray(grey16).save(f"pil-{name}-16.tif", compression=compression)
for name, tag in [("lzw", "tiff_lzw"), ("deflate", "tiff_adobe_deflate")]:
    Image.fromarray(grey8).save(f"pil-{name}-predictor-8.tif", compression=tag, tiffinfo={317: 2})
    Image.fromarray(grey16).save(f"pil-{name}-predictor-16.tif", compression=tag, tiffinfo={317: 2})
Image.fromarray(grey8).convert("RGB").save("pil-rgb-grey.tif", compression="tiff_lzw", tiffinfo={317: 2})
Image.merge("RGBA", [Image.fromarray(grey8)] * 3 + [Image.new("L", (41, 37), 255)]).save("pil-rgba-opaque.tif")
for order, name in [("<", "little"), (">", "big")]:
    tifffile.imwrite(f"tifffile-{name}-16-strips.tif", grey16, byteorder=order, rowsperstrip=5, photometric="minisblack")
    tifffile.imwrite(f"tifffile-{name}-16-tiles.tif", grey16, byteorder=order, tile=(16, 32), photometric="minisblack")
    tifffile.imwrite(f"tifffile-{name}-16-deflate.tif", grey16, byteorder=order, compression="zlib", predictor=False, photometric="minisblack")
tifffile.imwrite("tifffile-white-is-zero.tif", 255 - grey8, photometric="miniswhite")
tifffile.imwrite("tifffile-tiles-deflate-8.tif", grey8, tile=(32, 16), compression="zlib", photometric="minisblack")
tifffile.imwrite("tifffile-pages.tif", np.stack([grey8, np.roll(grey8, 1, axis=1), grey8]), photometric="minisblack")
