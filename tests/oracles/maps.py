"""What does another reader make of the search's maps?

Standard input: {"files": [path], "places": [[longitude, latitude]]}. Standard output: for each file what GDAL, by
rasterio, reads of it: its driver, size, what stands for no value, the EPSG code of its coordinates if they have one,
the transformation from column and row, its values from the north row by row with null where there is none; and for
each place column and row of the cell it lies in, if the file is placed on the Earth.
"""

import json
import math
import sys

import rasterio
from rasterio.warp import transform

question = json.load(sys.stdin)


def of_file(path):
    # GDAL reads an ASCII grid with half the digits unless told otherwise.
    options = {"DATATYPE": "Float64"} if path.endswith(".asc") else {}
    with rasterio.open(path, **options) as grid:
        band = grid.read(1, masked=True)
        cells = []
        if grid.crs:
            longitudes, latitudes = zip(*question["places"]) if question["places"] else ((), ())
            east, north = transform("EPSG:4326", grid.crs, longitudes, latitudes)
            # Not rounded down yet: the test sees how far from the cell's middle a place comes out.
            cells = [list(~grid.transform * place) for place in zip(east, north)]
        return {
            "driver": grid.driver,
            "size": [grid.width, grid.height],
            "no_value": grid.nodata,
            "epsg": grid.crs.to_epsg() if grid.crs else None,
            "transform": list(grid.transform)[:6],
            "values": [[None if math.isnan(v) else v for v in row] for row in band.astype("f8").filled(math.nan).tolist()],
            "cells": cells,
        }


json.dump([of_file(path) for path in question["files"]], sys.stdout)
