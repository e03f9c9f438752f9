"""What does OpenCV draw with the same cameras?

Standard input: a JSON list of cameras, each a frame and lens as the program's documentation states them, an attitude and
points of the world. Standard output: for each camera the pixels that OpenCV draws the points at, in its own convention
of pixels: (0, 0) is the *centre* of the top left pixel.
"""

import json
import sys

import cv2
import numpy as np


def turn(axis, degrees):
    """The rotation about an axis by the right-hand rule."""
    return cv2.Rodrigues(np.asarray(axis, float) * np.radians(degrees))[0]


def view_from_world(camera):
    """East, north, up to right, down, forward.

    The camera starts level and looking north; headings turn it clockwise seen from above, pitches lift its axis, rolls
    turn it clockwise seen from behind. Directions turn the other way than the camera does.
    """
    level_north = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    heading = turn([0, 0, 1], camera["heading_deg"])
    pitch = turn([1, 0, 0], -camera["pitch_deg"])
    roll = turn([0, 0, 1], -camera["roll_deg"])
    return roll @ pitch @ level_north @ heading


def camera_matrix(camera):
    """Focal lengths and principal point in pixels.

    Raising the lens moves the principal point down the upright picture, as the picture then shows more of the top;
    moving it right moves the principal point left.
    """
    across = camera["width_px"] / camera["width_mm"]
    down = camera["height_px"] / camera["height_mm"]
    cx = camera["width_px"] / 2 - camera["shift_mm"] * across - 0.5
    cy = camera["height_px"] / 2 + camera["rise_mm"] * down - 0.5
    return np.array([[camera["focal_mm"] * across, 0, cx], [0, camera["focal_mm"] * down, cy], [0, 0, 1]])


def project(camera):
    rotation = view_from_world(camera)
    points = np.array(camera["points_m"], float).reshape(-1, 3)
    k = np.array(camera["distortion"])
    matrix = camera_matrix(camera)
    if camera["mapping"] == "Rectilinear":
        # The matrix itself: a rotation vector near a half turn would lose digits.
        pixels, _ = cv2.projectPoints(points, rotation, -rotation @ camera["eye_m"], matrix, k)
    else:
        # Its polynomial in the angle is the radial part k1, k2, k3 on equidistant coordinates. It takes rotation vectors
        # only, so the points are turned beforehand.
        views = (points - camera["eye_m"]) @ rotation.T
        polynomial = np.array([k[0], k[1], k[4], 0.0])
        pixels, _ = cv2.fisheye.projectPoints(views.reshape(-1, 1, 3), np.zeros(3), np.zeros(3), matrix, polynomial)
    return pixels.reshape(-1, 2).tolist()


def ideal_slopes(camera, pixels):
    """x/z and y/z of undistorted rays, and how far they miss the pixels when distorted again, in focal lengths."""
    k = np.array(camera["distortion"])
    criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 500, 1e-15)
    matrix = camera_matrix(camera)
    given = np.array(pixels, float).reshape(-1, 1, 2)
    slopes = cv2.undistortPoints(given, matrix, k, criteria=criteria).reshape(-1, 2)
    rays = np.column_stack([slopes, np.ones(len(slopes))]).reshape(-1, 1, 3)
    again, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), matrix, k)
    missed = np.linalg.norm((again - given).reshape(-1, 2) / [matrix[0, 0], matrix[1, 1]], axis=1)
    return [[*slope, miss] for slope, miss in zip(slopes.tolist(), missed.tolist())]


def vanishing_points(camera):
    """K·R·d for the zenith and the level forward direction, homogeneous."""
    product = camera_matrix(camera) @ view_from_world(camera)
    heading = np.radians(camera["heading_deg"])
    return [(product @ [0, 0, 1]).tolist(), (product @ [np.sin(heading), np.cos(heading), 0]).tolist()]


def turned_pixels(camera, pixels):
    """The pixels of the same camera, levelled where it stands: K·R_level·R⁻¹·K⁻¹."""
    level = {**camera, "pitch_deg": 0.0, "roll_deg": 0.0}
    matrix = camera_matrix(camera)
    homography = matrix @ view_from_world(level) @ view_from_world(camera).T @ np.linalg.inv(matrix)
    return cv2.perspectiveTransform(np.array(pixels, float).reshape(-1, 1, 2), homography).reshape(-1, 2).tolist()


def answer(camera):
    pixels = project(camera)
    answers = {"pixels": pixels}
    if camera["mapping"] == "Rectilinear":
        answers["vanishing"] = vanishing_points(camera)
        answers["slopes"] = ideal_slopes(camera, pixels)
        if not any(camera["distortion"]):
            answers["levelled"] = turned_pixels(camera, pixels)
    return answers


if __name__ == "__main__":
    cv2.setNumThreads(1)
    cameras = json.load(sys.stdin)
    json.dump([answer(camera) for camera in cameras], sys.stdout)
