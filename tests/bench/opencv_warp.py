"""CPU ms of OpenCV's warp alone: usage SHOT.jpg KERNEL RUNS and the 9 numbers of warp.c's map"""
import sys
import time

import cv2
import numpy as np

shot = cv2.imread(sys.argv[1])
how = {"linear": cv2.INTER_LINEAR, "cubic": cv2.INTER_CUBIC,
       "lanczos": cv2.INTER_LANCZOS4}[sys.argv[2]]
h = np.array([float(n) for n in sys.argv[4:13]]).reshape(3, 3)
cv2.setNumThreads(1)
ms = []
for _ in range(int(sys.argv[3])):
    start = time.process_time()
    cv2.warpPerspective(shot, h, (3600, 3600), flags=how | cv2.WARP_INVERSE_MAP,
                        borderMode=cv2.BORDER_REPLICATE)
    ms.append(1e3 * (time.process_time() - start))
print(f"{sorted(ms)[len(ms) // 2]:.1f}")
