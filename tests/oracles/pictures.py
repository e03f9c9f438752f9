"""What does another reader make of the pictures' Exif?

Standard input: {"files": [path]}. Standard output: for each file its form, its size, how many frames it has, the colour of its middle, and its
tags by name as Pillow reads them: IFD0, Exif and GPS apart, fractions as numbers.
"""

import json
import sys

from PIL import ExifTags, Image

question = json.load(sys.stdin)


def plain(value):
    if isinstance(value, bytes):
        return list(value)
    if isinstance(value, tuple):
        return [plain(part) for part in value]
    if isinstance(value, (int, str)):
        return value
    return float(value)


def of_file(path):
    with Image.open(path) as picture:
        picture.load()
        exif = picture.getexif()
        sub, gps = exif.get_ifd(ExifTags.IFD.Exif), exif.get_ifd(ExifTags.IFD.GPSInfo)
        name = lambda tag: ExifTags.TAGS.get(tag, str(tag))
        return {
            "form": picture.format,
            "size": list(picture.size),
            "frames": getattr(picture, "n_frames", 1),
            "middle": list(picture.convert("RGB").getpixel((picture.width // 2, picture.height // 2))),
            "picture": {name(tag): plain(value) for tag, value in exif.items()},
            "exif": {name(tag): plain(value) for tag, value in sub.items()},
            "gps": {ExifTags.GPSTAGS.get(tag, str(tag)): plain(value) for tag, value in gps.items()},
        }


json.dump([of_file(path) for path in question["files"]], sys.stdout)
