"""Where does PROJ put the same places?

Standard input: {"systems": [{"code", "definition"}], "per_system": n, "anchors": [place], "places": [place]}, a place being
[latitude, longitude, height]. Standard output: for each system random places inside its published area of use, with the
map coordinates that PROJ gives them by the same definition, the place that it gives these, and the bearing in which the
map's second axis runs there; for each anchor with each place its geocentric and topocentric coordinates.
"""

import json
import math
import random
import sys
import warnings

import pyproj

warnings.simplefilter("ignore")
question = json.load(sys.stdin)
draw = random.Random(2718)
earth = pyproj.Geod(ellps="WGS84")


def within(area):
    """A random place of an area of use, not at its very rim; longitudes may run over 180 degrees."""
    east = area.east if area.east >= area.west else area.east + 360
    longitude = area.west + (east - area.west) * draw.uniform(0.02, 0.98)
    latitude = area.south + (area.north - area.south) * draw.uniform(0.02, 0.98)
    return latitude, (longitude + 180) % 360 - 180


def of_system(system):
    answer = {"code": system["code"], "places": []}
    try:
        area = pyproj.CRS.from_epsg(system["code"]).area_of_use
        crs = pyproj.CRS.from_user_input(system["definition"])
    except pyproj.exceptions.CRSError as error:
        return answer | {"why_not": str(error)}
    if area is None or not -90 <= area.south < area.north <= 90:
        return answer | {"why_not": "no area of use"}
    into = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    # About 100 m of latitude or of the map's own unit, either way along the map's second axis.
    step = 0.001 if crs.is_geographic else 100 / crs.axis_info[1].unit_conversion_factor
    for _ in range(question["per_system"]):
        latitude, longitude = within(area)
        x, y = into.transform(longitude, latitude)
        back = into.transform([x, x, x], [y, y - step, y + step], direction="INVERSE")
        if not all(map(math.isfinite, (latitude, longitude, x, y, *back[0], *back[1]))):
            continue
        longitudes, latitudes = back
        behind, _, _ = earth.inv(longitudes[0], latitudes[0], longitudes[1], latitudes[1])
        ahead, _, _ = earth.inv(longitudes[0], latitudes[0], longitudes[2], latitudes[2])
        # The mean of the two, as their curvatures cancel.
        map_north = ahead + ((behind - ahead) % 360 - 180) / 2
        answer["places"].append({
            "place": [latitude, longitude],
            "on_map": [x, y],
            "back": [latitudes[0], longitudes[0]],
            "map_north_deg": map_north,
        })
    return answer


def of_anchor(anchor):
    latitude, longitude, height = anchor
    geocentric = "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +ellps=WGS84"
    topocentric = geocentric + f" +step +proj=topocentric +ellps=WGS84 +lon_0={longitude} +lat_0={latitude} +h_0={height}"
    answer = []
    for latitude, longitude, height in question["places"]:
        answer.append({
            "geocentric": pyproj.Transformer.from_pipeline(geocentric).transform(longitude, latitude, height),
            "topocentric": pyproj.Transformer.from_pipeline(topocentric).transform(longitude, latitude, height),
        })
    return answer


json.dump(
    {
        "systems": [of_system(system) for system in question["systems"]],
        "anchors": [of_anchor(anchor) for anchor in question["anchors"]],
    },
    sys.stdout,
)
