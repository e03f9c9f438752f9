"""What does another reader make of a video?

Standard input: {"file": path}. Standard output: its codec and size as OpenCV's FFmpeg reads them.
"""

import json
import sys

import cv2

capture = cv2.VideoCapture(json.load(sys.stdin)["file"])
fourcc = int(capture.get(cv2.CAP_PROP_FOURCC))
json.dump(
    {
        "codec": "".join(chr(fourcc >> 8 * byte & 255) for byte in range(4)),
        "size": [int(capture.get(cv2.CAP_PROP_FRAME_WIDTH)), int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT))],
    },
    sys.stdout,
)
