"""Reads picture files with OpenCV or ImageMagick, for comparison with the decoder's pixels.

usage: decode_files.py FILE...

For each file, on standard output: "WIDTH HEIGHT BITS EXACT\\n" and its RGB samples, upright, row
by row, BITS 8 or 16 in host order; or "0 0 0 0\\n" where neither library reads it. EXACT is 1
where every byte must agree.

OpenCV reads PNG, JPEG and most TIFFs as they are stored, so its bytes must be equal. It rounds
CMYK coarsely and gets some TIFFs wrong (12-bit planes, 16-bit planes, alpha); ImageMagick takes
those, in 16 bits, which an 8-bit decoder can only meet within its rounding. ImageMagick in turn
applies a PNG's gAMA, mixes alpha of CMYK in ink, and reads YCbCr TIFFs as if they were RGB.
"""
import os
import subprocess
import sys

import cv2
import numpy as np

WHITE = ["-background", "white", "-alpha", "remove"]
# Parts of names of files that are ImageMagick's; all are TIFF or CMYK JPEG.
MAGICK = ["cmyk", "separated", "12b", "rgba", "strike", "planar-16", "cramps-tile",
          "libtiffpic__quad-tile", "logluv", "palette-1c-4b", "fogra"]


def magick(path, *options):
    made = subprocess.run(["/usr/bin/convert", path + "[0]", "-auto-orient", *options, "-depth",
                           "16", "PPM:-"], capture_output=True).stdout
    image = cv2.imdecode(np.frombuffer(made, np.uint8), cv2.IMREAD_UNCHANGED) if made else None
    if image is None:
        return None
    image = image if image.ndim == 3 else np.repeat(image[..., None], 3, 2)
    # A picture of few levels may come in 8 bits all the same.
    return image[..., ::-1] if image.dtype == np.uint16 else image[..., ::-1] * np.uint16(257)


def over_white(colour, alpha, most):
    c, a = colour.astype(np.float64), alpha.astype(np.float64) / most
    return np.floor(c * a + most * (1 - a) + 0.5).astype(colour.dtype)


def opencv(path):
    if path.lower().endswith((".jpg", ".jpeg")):
        # This flag applies Exif's orientation.
        image = cv2.imread(path, cv2.IMREAD_ANYCOLOR)
    else:
        image = cv2.imread(path, cv2.IMREAD_UNCHANGED)
    if image is None or image.dtype not in (np.uint8, np.uint16):
        return None
    if image.ndim == 2:
        image = image[..., None]
    if image.shape[2] == 4:
        most = np.iinfo(image.dtype).max
        image = over_white(image[..., :3], image[..., 3:], most)
    return np.repeat(image, 3, 2) if image.shape[2] == 1 else image[..., ::-1]


def read(path):
    name = os.path.basename(path)
    if any(part in name for part in MAGICK):
        if "cmyk-4c-8b" in name:
            colour = magick(path, "-alpha", "off", "-colorspace", "sRGB")
            alpha = magick(path, "-alpha", "extract")
            return over_white(colour, alpha, 65535), 0
        return magick(path, "-colorspace", "sRGB", *WHITE), 0
    return opencv(path), 1


for path in sys.argv[1:]:
    image, exact = read(path)
    if image is None:
        sys.stdout.buffer.write(b"0 0 0 0\n")
    else:
        head = "%d %d %d %d\n" % (image.shape[1], image.shape[0], image.itemsize * 8, exact)
        sys.stdout.buffer.write(head.encode() + np.ascontiguousarray(image).tobytes())
