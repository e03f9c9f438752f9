"""Where does pvlib put the sun, and when does it let it rise, culminate and set?

Standard input: {"positions": [[latitude, longitude, height, pressure in hPa, temperature, delta T, seconds since 1970]],
"days": [[latitude, longitude, delta T, seconds since 1970 of a midnight in universal time]]}. Standard output: for each
position azimuth, apparent and true altitude; for each day transit, rise and set in seconds since 1970, null where there is
none. All by pvlib's own writing of the solar position algorithm.
"""

import json
import math
import sys

import numpy
from pvlib import spa

question = json.load(sys.stdin)


def columns(rows, count):
    return [numpy.array([row[index] for row in rows], dtype=float) for index in range(count)]


latitude, longitude, height, pressure, temperature, delta_t, moment = columns(question["positions"], 7)
positions = spa.solar_position_numpy(
    moment, latitude, longitude, height, pressure, temperature, delta_t, 0.5667, 1, sst=False
)
apparent, true, azimuth = positions[2], positions[3], positions[4]

latitude, longitude, delta_t, midnight = columns(question["days"], 4)
days = numpy.column_stack(spa.transit_sunrise_sunset(midnight, latitude, longitude, delta_t, 1)).tolist()
days = [[None if math.isnan(time) else time for time in times] for times in days]

json.dump({"positions": numpy.column_stack([azimuth, apparent, true]).tolist(), "days": days}, sys.stdout)
