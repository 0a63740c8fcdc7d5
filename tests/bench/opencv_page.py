"""The same page scripted on OpenCV, without any search: usage SHOT.jpg OUTLINE.json OUT.jpg KERNEL"""
import json
import sys

import cv2
import numpy as np

shot, outline, out, kernel = sys.argv[1:5]
with open(outline) as f:
    corners = np.float32(json.load(f)["corners"])
flags = {"linear": cv2.INTER_LINEAR, "cubic": cv2.INTER_CUBIC, "lanczos": cv2.INTER_LANCZOS4}
cv2.setNumThreads(1)
side = 3600
h = cv2.getPerspectiveTransform(
    corners, np.float32([[-0.5, -0.5], [side - 0.5, -0.5], [side - 0.5, side - 0.5],
                         [-0.5, side - 0.5]]))
page = cv2.warpPerspective(cv2.imread(shot), h, (side, side), flags=flags[kernel],
                           borderMode=cv2.BORDER_REPLICATE)
# OpenCV 4.6 has no word for 4:4:4 (IMWRITE_JPEG_SAMPLING_FACTOR came later): it writes 4:2:0
cv2.imwrite(out, page, [cv2.IMWRITE_JPEG_QUALITY, 95])
