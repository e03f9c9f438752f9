"""How do pictures from above lie that GDAL writes, and what is in them?

Standard input: {"folder": path}. The script writes pictures of one place into that folder by GDAL through rasterio: GeoTIFFs
north up and turned, counted from corners and middles of pixels, packed in several ways; PNG and JPEG with a world file and a
.prj beside them. It opens each again by the same library. Standard output, for each: "file", "size" (columns and rows),
"pixels" (right and down from the top left corner), "places" (their longitude and latitude by PROJ), "colours" (at some
columns and rows), and whether the packing keeps colours ("exact").
"""

import json
import pathlib
import sys

import numpy
import pyproj
import rasterio
from rasterio.transform import Affine

folder = pathlib.Path(json.load(sys.stdin)["folder"])
COLUMNS, ROWS = 64, 48
# The corner in UTM zone 32: metres east and north.
CORNER = Affine.translation(612_000.0, 5_899_000.0)
UPRIGHT = CORNER * Affine.scale(0.25, -0.25)
TURNED = CORNER * Affine.rotation(-17.0) * Affine.scale(0.25, -0.25)

# Name, driver, transform, what the writer is asked for, whether pixels are counted from their middles.
PICTURES = [
    ("north_up.tif", "GTiff", UPRIGHT, {}, False),
    ("turned.tif", "GTiff", TURNED, {"COMPRESS": "LZW", "PREDICTOR": "2"}, False),
    ("from_middles.tif", "GTiff", UPRIGHT, {"COMPRESS": "DEFLATE"}, True),
    ("tiles.tif", "GTiff", UPRIGHT, {"TILED": "YES", "BLOCKXSIZE": "16", "BLOCKYSIZE": "16"}, False),
    ("packed.tif", "GTiff", UPRIGHT, {"COMPRESS": "JPEG", "PHOTOMETRIC": "YCBCR", "JPEG_QUALITY": "95"}, False),
    ("baseline.tif", "GTiff", TURNED, {"PROFILE": "BASELINE", "TFW": "YES"}, False),
    ("chart.png", "PNG", TURNED, {"WORLDFILE": "YES"}, False),
    ("photograph.jpg", "JPEG", UPRIGHT, {"WORLDFILE": "YES", "QUALITY": "95"}, False),
]

column, row = numpy.meshgrid(numpy.arange(COLUMNS), numpy.arange(ROWS))
bands = numpy.stack([60 + 2 * column, 200 - 3 * row, 90 + column + row]).astype("uint8")
degrees = pyproj.Transformer.from_crs("EPSG:32632", "EPSG:4326", always_xy=True)


def write(name, driver, transform, asked, from_middles):
    with rasterio.open(
        folder / name, "w", driver=driver, width=COLUMNS, height=ROWS, count=3, dtype="uint8", crs="EPSG:32632",
        transform=transform, **({"INTERLEAVE": "PIXEL"} if driver == "GTiff" else {}), **asked,
    ) as picture:
        if from_middles:
            picture.update_tags(AREA_OR_POINT="Point")
        picture.write(bands)
    if {"WORLDFILE", "TFW"} & asked.keys():
        (folder / name).with_suffix(".prj").write_text(pyproj.CRS.from_epsg(32632).to_wkt("WKT1_ESRI"))
    pixels = [(right, down) for right in (0.0, 7.5, COLUMNS) for down in (0.0, 20.25, ROWS)]
    with rasterio.open(folder / name) as picture:
        assert picture.transform.almost_equals(transform, 1e-6), (name, picture.transform)
        read = picture.read()
        places = [degrees.transform(*(picture.transform * pixel)) for pixel in pixels]
    colours = [(x, y, *map(int, read[:, y, x])) for x in range(0, COLUMNS, 9) for y in range(0, ROWS, 7)]
    exact = asked.get("COMPRESS") != "JPEG" and driver != "JPEG"
    return {
        "file": name, "size": (COLUMNS, ROWS), "pixels": pixels, "places": places, "colours": colours, "exact": exact,
    }


json.dump([write(*picture) for picture in PICTURES], sys.stdout)
