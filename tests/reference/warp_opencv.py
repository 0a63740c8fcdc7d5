"""Warps grey pictures with OpenCV, for tests/reference/test_resample.c.

usage: warp_opencv.py FOLDER

FOLDER/jobs has a line for each picture: number, shot width and height, output width and height,
and the nine numbers of the homography from output to shot pixels, all separated by spaces. The
shot is FOLDER/N.raw, 8 bits a pixel. Written are FOLDER/N.cubic.raw and FOLDER/N.lanczos4.raw.
"""
import sys

import cv2
import numpy as np

folder = sys.argv[1]
with open(folder + "/jobs", encoding="ascii") as jobs:
    for line in jobs:
        field = line.split()
        number = field[0]
        shot_w, shot_h, out_w, out_h = (int(n) for n in field[1:5])
        h = np.array([float(n) for n in field[5:14]]).reshape(3, 3)
        shot = np.fromfile(f"{folder}/{number}.raw", np.uint8).reshape(shot_h, shot_w)
        for name, how in (("cubic", cv2.INTER_CUBIC), ("lanczos4", cv2.INTER_LANCZOS4)):
            out = cv2.warpPerspective(shot, h, (out_w, out_h), flags=how | cv2.WARP_INVERSE_MAP,
                                      borderMode=cv2.BORDER_REPLICATE)
            out.tofile(f"{folder}/{number}.{name}.raw")
