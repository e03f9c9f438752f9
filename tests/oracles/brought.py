"""What do general-purpose libraries write, and what do they say is in it?

Standard input: {"folder": path, "projected": [EPSG code], "grids": [name of one below]}. The script writes into that folder
invented buildings as GeoJSON, by GDAL through pyogrio, in several systems and forms, and hills as Esri ASCII grids with
their .prj, by GDAL through rasterio. It reads each file back by the same library. Standard output:

- "footprints": for each file its name, the EPSG code it is written in, what GDAL's writer was asked for, and for each
  polygon that it holds, in order, the name and height of its feature, its area on the ellipsoid (PROJ's geodesics, holes
  taken off), and its rings as longitudes and latitudes (PROJ);
- "grids": for each file its name, its EPSG code, columns and rows, heights by rows from the north with null where there is
  none, and of every post the longitude and latitude (PROJ).
"""

import json
import math
import pathlib
import sys

import numpy
import pyogrio.raw
import pyproj
import rasterio
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

question = json.load(sys.stdin)
folder = pathlib.Path(question["folder"])
earth = pyproj.Geod(ellps="WGS84")
# Where everything is laid out: metres in this system about this point.
HOME, EAST, NORTH = 32632, 612_000.0, 5_899_000.0


def court(width, depth, *holes):
    return Polygon(box(0, 0, width, depth).exterior.coords, [box(*hole).exterior.coords for hole in holes])


# Name, height in metres, storeys, and the outline about the point above.
BUILDINGS = [
    ("brewhouse", 14.25, None, affinity.rotate(box(0, 0, 22, 11), 17)),
    ("maltings", 18.0, None, affinity.translate(shapely.union(box(0, 0, 30, 9), box(0, 0, 8, 26)), 60, -35)),
    ("cloister", 9.5, None, affinity.translate(court(40, 36, (6, 6, 18, 30), (22, 6, 34, 30)), -120, 40)),
    ("twin kilns", 21.75, None, MultiPolygon([
        affinity.translate(box(0, 0, 7, 7), 140, 90),
        affinity.translate(affinity.rotate(court(12, 12, (4, 4, 8, 8)), 30), 155, 90),
    ])),
    ("gasholder", 26.0, None, Point(-60, -150).buffer(15.5, quad_segs=12)),
    ("wash house", None, 2, affinity.translate(box(0, 0, 9, 6), 30, 120)),
    ("Fährhaus “Süd”", 6.125, None, affinity.translate(affinity.skew(box(0, 0, 12, 8), 12), -200, -60)),
]


def into(code):
    return pyproj.Transformer.from_crs(f"EPSG:{HOME}", f"EPSG:{code}", always_xy=True)


def written_in(code, geometry):
    moved = affinity.translate(geometry, EAST, NORTH)
    return shapely.transform(moved, lambda points: numpy.column_stack(into(code).transform(points[:, 0], points[:, 1])))


def degrees(code, points):
    transformer = pyproj.Transformer.from_crs(f"EPSG:{code}", "EPSG:4326", always_xy=True)
    return numpy.column_stack(transformer.transform(points[:, 0], points[:, 1]))


def write_footprints(name, code, asked, with_heights_of_corners=False):
    shapes = [written_in(code, outline) for _, _, _, outline in BUILDINGS]
    if with_heights_of_corners:
        shapes = [shapely.force_3d(shape, 31.5) for shape in shapes]
    single = all(shape.geom_type == "Polygon" for shape in shapes)
    heights = [math.nan if height is None else height for _, height, _, _ in BUILDINGS]
    storeys = [math.nan if count is None else count for _, _, count, _ in BUILDINGS]
    pyogrio.raw.write(
        folder / name,
        geometry=shapely.to_wkb(numpy.array(shapes, dtype=object)),
        field_data=[
            numpy.array([building[0] for building in BUILDINGS], dtype=object),
            numpy.array(heights),
            numpy.array(storeys),
        ],
        fields=numpy.array(["name", "height", "building:levels"], dtype=object),
        geometry_type="Polygon" if single else "Unknown",
        crs=f"EPSG:{code}",
        driver="GeoJSON",
        encoding="UTF-8",
        **asked,
    )
    meta, _, shapes, fields = pyogrio.raw.read(folder / name)
    column = {field: fields[index] for index, field in enumerate(meta["fields"])}
    polygons = []
    for index, shape in enumerate(shapely.from_wkb(shapes)):
        for polygon in shapely.get_parts(shape):
            rings = [degrees(code, shapely.get_coordinates(ring)) for ring in shapely.get_rings(polygon)]
            areas = [abs(earth.polygon_area_perimeter(ring[:, 0], ring[:, 1])[0]) for ring in rings]
            height = column["height"][index]
            polygons.append({
                "name": column["name"][index],
                "height_m": None if math.isnan(height) else float(height),
                "area_m2": areas[0] - sum(areas[1:]),
                # A ring's last corner is its first once more.
                "rings": [ring[:-1].tolist() for ring in rings],
            })
    return {"file": name, "code": code, "polygons": polygons}


# Name, EPSG code, cell (across, down), columns and rows, kind of number, what stands for no height.
GRIDS = {
    "square": (32632, (5.0, 5.0), (61, 47), "float32", -9999.0),
    "whole metres": (25832, (10.0, 10.0), (40, 33), "int16", -32768),
    "oblong": (32632, (4.0, 7.5), (50, 30), "float64", -9999.0),
    "degrees": (4326, (1 / 3600, 1 / 3600), (45, 37), "float32", -9999.0),
    "national": (31467, (8.0, 8.0), (44, 40), "float32", -9999.0),
}


def write_grid(name):
    code, (across, down), (columns, rows), kind, nothing = GRIDS[name]
    x, y = into(code).transform(EAST, NORTH)
    west, north = x - across * columns / 2, y + down * rows / 2
    column, row = numpy.meshgrid(numpy.arange(columns), numpy.arange(rows))
    heights = 120 + 18 * numpy.sin(column / 7.3) * numpy.cos(row / 5.1) + 0.37 * row
    heights = numpy.round(heights).astype(kind) if kind == "int16" else heights.astype(kind)
    heights[3:5, 7:10] = nothing
    file = f"{name.replace(' ', '_')}.asc"
    asked = {"DECIMAL_PRECISION": 9} if kind != "int16" else {}
    with rasterio.open(
        folder / file, "w", driver="AAIGrid", width=columns, height=rows, count=1, dtype=kind, nodata=nothing,
        crs=f"EPSG:{code}", transform=rasterio.transform.from_origin(west, north, across, down), **asked,
    ) as grid:
        grid.write(heights, 1)
    # GDAL reads an ASCII grid with half the digits unless told otherwise.
    with rasterio.open(folder / file, DATATYPE="Float64") as grid:
        read = grid.read(1, masked=True).filled(math.nan)
        x, y = grid.transform * (column + 0.5, row + 0.5)
    places = degrees(code, numpy.column_stack((x.ravel(), y.ravel()))).reshape(rows, columns, 2)
    return {
        "file": file,
        "code": code,
        "prj": (folder / file).with_suffix(".prj").read_text(),
        "size": [columns, rows],
        "heights_m": [[None if math.isnan(height) else height for height in row] for row in read.tolist()],
        "places": places.tolist(),
    }


footprints = [
    write_footprints("as_rfc_7946.geojson", 4326, {"RFC7946": "YES", "COORDINATE_PRECISION": "9"}),
    write_footprints("as_of_2008.geojson", 4326, {}),
    write_footprints("with_bounds.geojson", 4326, {"WRITE_BBOX": "YES", "ID_GENERATE": "YES"}),
    write_footprints("with_heights_of_corners.geojson", 32632, {}, with_heights_of_corners=True),
]
footprints += [write_footprints(f"in_{code}.geojson", code, {}) for code in question["projected"]]
json.dump({"footprints": footprints, "grids": [write_grid(name) for name in question["grids"]]}, sys.stdout)
