"""How many rays a second does Embree find blocked or free, on one thread?

Standard input: a JSON object that names files of little-endian `f32`, one of triangles (nine numbers each) and some of
rays (origin, direction, length), how many rays make a batch and how often each is asked. Standard output: for each file
of rays which ones are blocked, and each batch's best time in seconds, by the clock and by what the processor spent on it.
"""

import json
import sys
import time

import numpy as np
from embreex import rtcore_scene
from embreex.mesh_construction import TriangleMesh


def answer(scene, rays, batch, runs):
    starts = range(0, len(rays), batch)
    batches = [[np.ascontiguousarray(part) for part in np.split(rays[at : at + batch], [3, 6], axis=1)] for at in starts]
    seconds = [float("inf")] * len(batches)
    spent = list(seconds)
    for _ in range(runs):
        blocked = []
        for index, (origins, directions, lengths) in enumerate(batches):
            # The lengths are overwritten with what was found.
            reach = lengths.ravel().copy()
            start, spent_before = time.perf_counter(), time.process_time()
            met = scene.run(origins, directions, reach, query="OCCLUDED")
            seconds[index] = min(seconds[index], time.perf_counter() - start)
            spent[index] = min(spent[index], time.process_time() - spent_before)
            blocked += (met >= 0).tolist()
    return {"blocked": blocked, "seconds": seconds, "spent": spent}


question = json.load(sys.stdin)
scene = rtcore_scene.EmbreeScene()
mesh = TriangleMesh(scene, np.fromfile(question["triangles"], "<f4").reshape(-1, 3, 3))
# The first question of all has the scene sorted.
scene.run(np.zeros((1, 3), "f4"), np.ones((1, 3), "f4"), query="OCCLUDED")
rays = [np.fromfile(path, "<f4").reshape(-1, 7) for path in question["rays"]]
json.dump([answer(scene, each, question["batch"], question["runs"]) for each in rays], sys.stdout)
