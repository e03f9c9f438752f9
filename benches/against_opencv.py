"""How fast does OpenCV draw the same points through the same lenses, on one thread?

Standard input and output as for the tests' oracle of projections; each answer tells the pixels and the best time in
seconds of drawing them all.
"""

import json
import pathlib
import sys
import time

import cv2
import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "tests" / "oracles"))
from projection import camera_matrix, view_from_world

RUNS = 30


def answer(camera):
    rotation, matrix = view_from_world(camera), camera_matrix(camera)
    translation = -rotation @ camera["eye_m"]
    points = np.array(camera["points_m"])
    # A lens without distortion is told by no coefficients, which is its quickest way.
    coefficients = np.array(camera["distortion"]) if any(camera["distortion"]) else None
    best = float("inf")
    for _ in range(RUNS):
        start = time.perf_counter()
        pixels, _ = cv2.projectPoints(points, rotation, translation, matrix, coefficients)
        best = min(best, time.perf_counter() - start)
    return {"pixels": pixels.reshape(-1, 2).tolist(), "seconds": best}


cv2.setNumThreads(1)
json.dump([answer(camera) for camera in json.load(sys.stdin)], sys.stdout)
