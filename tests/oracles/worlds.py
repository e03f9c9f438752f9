"""How far off are positions that were written for points of a site?

Standard input: {"cases": [{"anchor": [latitude, longitude, height], "world": [east, north, up], "place": [latitude,
longitude, height or null]}]}. A site's plan positions are those of the ground at the anchor's height, its heights are
counted up from there. Standard output: for each case the metres by which the place misses the world point; its height
counts where one is given.
"""

import json
import math
import sys

import pyproj


def plan(anchor, latitude, longitude):
    """East and north of a place at the anchor's height, by PROJ's topocentric conversion."""
    pipeline = pyproj.Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +ellps=WGS84 +step "
        f"+proj=topocentric +ellps=WGS84 +lat_0={anchor[0]!r} +lon_0={anchor[1]!r} +h_0={anchor[2]!r}"
    )
    east, north, _ = pipeline.transform(longitude, latitude, anchor[2])
    return east, north


def miss(case):
    anchor, world, place = case["anchor"], case["world"], case["place"]
    east, north = plan(anchor, place[0], place[1])
    up = 0.0 if place[2] is None else place[2] - anchor[2] - world[2]
    return math.sqrt((east - world[0]) ** 2 + (north - world[1]) ** 2 + up**2)


json.dump([miss(case) for case in json.load(sys.stdin)["cases"]], sys.stdout)
