"""What does another reader see in a video?

Standard input: {"file": path}. Standard output: its codec, size and frames a second, and the mean colour (red, green, blue) of each
decoded picture, as OpenCV reads them; an empty list where it finds no decoder.
"""

import json
import sys

import cv2

capture = cv2.VideoCapture(json.load(sys.stdin)["file"])
fourcc = int(capture.get(cv2.CAP_PROP_FOURCC))
means = []
while True:
    read, picture = capture.read()
    if not read:
        break
    means.append([float(value) for value in picture.reshape(-1, 3).mean(axis=0)[::-1]])
json.dump(
    {
        "codec": "".join(chr(fourcc >> 8 * byte & 255) for byte in range(4)),
        "size": [int(capture.get(cv2.CAP_PROP_FRAME_WIDTH)), int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT))],
        "means": means,
    },
    sys.stdout,
)
