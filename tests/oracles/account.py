"""What should a record say, by nothing but its own stance, camera and world points?

Standard input: a JSON list of cases, each a record as `plumbsight measure --json` prints it, the subject's blocks as the
site file describes them, and what the record leaves out: the straightened picture's camera and the place of the worst
detail. Standard output: for each case the same figures, from OpenCV's projection, from K·R, from every corner and many
points of every circle, from finite differences and from dense samples. Leans are positive anticlockwise, in degrees.
"""

import json
import sys

import cv2
import numpy as np

from projection import camera_matrix, view_from_world

# OpenCV's pixel (0, 0) is the centre of the top left one, the record's its corner.
CENTRE = 0.5
CIRCLE_POINTS = 100_000
LINE_SAMPLES = 1500
LARGEST_RADIUS = 100.0
# Instead of infinity, which JSON has not.
FAR = 1e300


class Camera:
    """A camera at its place, from the words of a record."""

    def __init__(self, stance, camera):
        self.words = {
            "width_mm": camera["format_mm"][0],
            "height_mm": camera["format_mm"][1],
            "width_px": camera["pixels"][0],
            "height_px": camera["pixels"][1],
            **{key: camera[key] for key in ("focal_mm", "rise_mm", "mapping", "distortion")},
            "shift_mm": camera["lateral_shift_mm"],
            **{key: stance[key] for key in ("heading_deg", "pitch_deg", "roll_deg")},
        }
        self.eye = np.array(stance["eye_m"])
        self.rotation = view_from_world(self.words)
        self.matrix = camera_matrix(self.words)
        self.size = np.array(camera["pixels"], float)
        self.px_per_mm = self.size / camera["format_mm"]
        self.coefficients = np.array(camera["distortion"])
        self.fold = self.folding_radius()

    def levelled(self):
        other = Camera.__new__(Camera)
        other.__dict__.update(self.__dict__)
        other.rotation = view_from_world({**self.words, "pitch_deg": 0.0, "roll_deg": 0.0})
        return other

    def folding_radius(self):
        """Where the radial part turns back on itself; beyond it OpenCV draws points where no ray comes from."""
        k1, k2, _, _, k3, k4, k5, k6 = self.coefficients
        r = np.linspace(0, 12, 240_001)
        s = r * r
        drawn = r * (1 + s * (k1 + s * (k2 + s * k3))) / (1 + s * (k4 + s * (k5 + s * k6)))
        turned = np.flatnonzero(np.diff(drawn) <= 0)
        return r[turned[0]] if len(turned) else np.inf

    def view(self, points):
        return (np.asarray(points, float) - self.eye) @ self.rotation.T

    def ideal_mm(self, points):
        """Undistorted rectilinear places: millimetres right and up."""
        view = self.view(points)
        f, rise, shift = (self.words[key] for key in ("focal_mm", "rise_mm", "shift_mm"))
        return np.stack([f * view[..., 0] / view[..., 2] - shift, -f * view[..., 1] / view[..., 2] - rise], -1)

    def drawn(self, points):
        """Pixels, and whether there are any: in front of the lens and inside the fold."""
        view = self.view(points).reshape(-1, 3)
        across = np.hypot(view[:, 0], view[:, 1])
        theta = np.arctan2(across, view[:, 2])
        mapping = self.words["mapping"]
        if mapping == "Rectilinear":
            good = view[:, 2] > 0
            height = np.where(good, across / np.where(good, view[:, 2], 1), np.inf)
        elif mapping == "Equisolid":
            good, height = theta <= np.pi, 2 * np.sin(theta / 2)
        elif mapping == "Equidistant":
            good, height = theta <= np.pi, theta
        elif mapping == "Stereographic":
            good, height = theta < np.pi, 2 * np.tan(theta / 2)
        elif mapping == "Orthographic":
            good, height = theta <= np.pi / 2, np.sin(theta)
        else:
            raise ValueError(mapping)
        good &= height <= min(self.fold, LARGEST_RADIUS if self.coefficients.any() else np.inf)
        # A ray of the same image height through a plain lens: OpenCV then adds distortion and pixels.
        scale = np.where(across > 0, height / np.where(across > 0, across, 1), 0)
        rays = np.stack([view[:, 0] * scale, view[:, 1] * scale, np.ones(len(view))], -1)
        rays[~good] = [0, 0, 1]
        if mapping == "Rectilinear":
            rays = np.where(good[:, None], view, rays)
        pixels, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), self.matrix, self.coefficients)
        return pixels.reshape(-1, 2) + CENTRE, good

    def inside(self, pixels, slack=0.0):
        return np.all((pixels >= -slack) & (pixels <= self.size + slack), -1)


def lean_deg(lower_mm, upper_mm):
    right, up = np.asarray(upper_mm) - lower_mm
    return np.degrees(np.arctan2(-right, up))


def ideal_lean(camera, foot, head):
    """The lean between two undistorted places, and how well they tell it."""
    depths = camera.view([foot, head])[:, 2]
    if max(depths) <= 0:
        return None, None
    shares = [0.0, 1.0]
    if min(depths) <= 1e-3 * max(depths):
        # Up to a thousandth of the farther end's depth before the lens.
        crossing = (1e-3 * max(depths) - depths[0]) / (depths[1] - depths[0])
        shares = [crossing, 1.0] if depths[0] < depths[1] else [0.0, crossing]
    foot, head = np.asarray(foot), np.asarray(head)
    places = camera.ideal_mm([foot + (head - foot) * share for share in shares])
    length = np.linalg.norm(places[1] - places[0])
    if length < 1e-9:
        return None, None
    return lean_deg(*places), 1e-7 + 1e-11 * np.abs(places).max() / length


def runs_in_frame(camera, foot, head):
    """The stretches of a line inside the frame by dense samples: end pixels, steps to the next samples, shares."""
    foot, head = np.asarray(foot), np.asarray(head)
    a, b = foot - camera.eye, head - camera.eye
    even = np.linspace(0, 1, LINE_SAMPLES)
    # As many again, evenly by the angle at the eye.
    along = b - a
    nearest = -(a @ along) / (along @ along)
    off = np.linalg.norm(a + along * nearest) / np.linalg.norm(along)
    angles = np.linspace(np.arctan2(-nearest, off), np.arctan2(1 - nearest, off), LINE_SAMPLES)
    shares = np.unique(np.clip(np.concatenate([even, nearest + off * np.tan(angles)]), 0, 1))
    pixels, good = camera.drawn(foot + (head - foot) * shares[:, None])
    mask = good & camera.inside(pixels)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]])))
    found = []
    for first, last in zip(edges[::2], edges[1::2] - 1):
        def step(index, other):
            other = min(max(other, 0), len(shares) - 1)
            return float(np.linalg.norm(pixels[other] - pixels[index])) if good[other] else FAR
        steps = [step(first, first - 1), step(last, last + 1)]
        inner = [step(first, first + 1), step(last, last - 1)]
        steps = [2 * i if s == FAR else s for s, i in zip(steps, inner)]
        chord = (pixels[last] - pixels[first]) / camera.px_per_mm
        across = np.array([-chord[1], chord[0]]) / max(np.linalg.norm(chord), 1e-12)
        bends = ((pixels[first : last + 1] - pixels[first]) / camera.px_per_mm) @ across
        found.append(
            {
                "ends_px": [pixels[first].tolist(), pixels[last].tolist()],
                "steps_px": steps,
                "length_px": float(np.linalg.norm(pixels[last] - pixels[first])),
                "shares": [float(shares[first]), float(shares[last])],
                "line_bend_percent": float(100 * np.abs(bends).max() / camera.words["height_mm"]),
            }
        )
    return found


def line(camera, record):
    foot, head = record["foot_m"], record["head_m"]
    pixels, good = camera.drawn([foot, head])
    lean, tolerance = ideal_lean(camera, foot, head)
    return {
        "ends_px": [pixel.tolist() if drawn else None for pixel, drawn in zip(pixels, good)],
        "ideal_lean_deg": lean,
        "tolerance_deg": tolerance,
        "runs": runs_in_frame(camera, foot, head),
    }


def plan_axes(block):
    heading = np.radians(block.get("heading_deg", 0.0))
    return np.array([[np.cos(heading), -np.sin(heading)], [np.sin(heading), np.cos(heading)]])


def plan_points(block):
    """The corners of a block's plan, or many points of its circle."""
    (kind, shape), = block["shape"].items()
    axes = plan_axes(block)
    if kind in ("Box", "Facade"):
        x, y = shape["width_m"] / 2, shape["depth_m"] / 2
        corners = np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
    elif kind == "PolygonTaper":
        half = np.pi / shape["sides"]
        across = max(shape["foot_across_m"], shape["head_across_m"])
        turns = np.pi / 2 + half + 2 * half * np.arange(shape["sides"])
        corners = across / 2 / np.cos(half) * np.stack([np.cos(turns), np.sin(turns)], -1)
    elif kind == "RoundTaper":
        turns = np.linspace(0, 2 * np.pi, CIRCLE_POINTS, endpoint=False)
        corners = max(shape["foot_radius_m"], shape["head_radius_m"]) * np.stack([np.cos(turns), np.sin(turns)], -1)
    else:
        raise ValueError(kind)
    return np.array(block["at"]) + corners @ axes


def bounding_leans(camera, blocks):
    """The leans of the plumb lines through the outermost points, each from two of its projected points."""
    points = np.concatenate([plan_points(block) for block in blocks]) - camera.eye[:2]
    middle = (points.min(0) + points.max(0)) / 2
    bearing = np.arctan2(middle[0], middle[1])
    turn = np.array([[np.cos(bearing), -np.sin(bearing)], [np.sin(bearing), np.cos(bearing)]])
    turned = points @ turn.T
    bearings = np.arctan2(turned[:, 0], turned[:, 1])
    ends = [int(bearings.argmin()), int(bearings.argmax())]
    if bearings[ends[1]] - bearings[ends[0]] >= np.pi * (1 - 1e-6):
        return None
    heading = np.radians(camera.words["heading_deg"])
    leans = []
    for end in ends:
        if points[end] @ [np.sin(heading), np.cos(heading)] <= 1e-9:
            return None
        plumb = np.array([*(points[end] + camera.eye[:2]), camera.eye[2]])
        # At the eye's own height it is in front; so is a short stretch about it.
        reach = 0.05 * camera.view(plumb)[2]
        leans.append(lean_deg(*camera.ideal_mm([plumb - [0, 0, reach], plumb + [0, 0, reach]])))
    return leans


def plan_distance(camera, blocks):
    """From the eye to the nearest side of any block's plan."""
    distances = []
    for block in blocks:
        a = plan_points(block) - camera.eye[:2]
        along = np.roll(a, -1, 0) - a
        share = np.clip(-np.sum(a * along, -1) / np.sum(along * along, -1), 0, 1)
        distances.append(np.linalg.norm(a + along * share[:, None], axis=-1).min())
    return float(min(distances))


def taper(camera, lines, body):
    """Width at head and foot between the body's outermost lines, along the horizon's own picture."""
    own = [entry for entry in lines if entry["block"] == body and entry["subject"]]
    rises = np.array([entry["head_m"][2] - entry["foot_m"][2] for entry in own])
    if len(own) < 2:
        return None
    own = [entry for entry, rise in zip(own, rises) if rise > rises.max() / 2]
    middles = np.array([(np.array(entry["foot_m"]) + entry["head_m"])[:2] / 2 - camera.eye[:2] for entry in own])
    bearings = np.arctan2(middles[:, 0], middles[:, 1])
    bearings = (bearings - bearings[0] + np.pi) % (2 * np.pi) - np.pi
    left, right = own[int(bearings.argmin())], own[int(bearings.argmax())]
    ends = np.array([left["foot_m"], right["foot_m"], left["head_m"], right["head_m"]])
    if camera.view(ends)[:, 2].min() <= 0:
        return None
    heading = np.radians(camera.words["heading_deg"])
    ahead = np.array([np.sin(heading), np.cos(heading), 0.0])
    aside = np.array([np.cos(heading), -np.sin(heading), 0.0])
    horizon = np.diff(camera.ideal_mm([camera.eye + ahead - aside * 0.1, camera.eye + ahead + aside * 0.1]), axis=0)[0]
    places = camera.ideal_mm(ends) @ (horizon / np.linalg.norm(horizon))
    return (places[3] - places[2]) / (places[1] - places[0])


def detail(camera, point, normal):
    """Pixels a metre in the direction in which they are fewest, by finite differences on the surface."""
    point, normal = np.asarray(point), np.asarray(normal) / np.linalg.norm(normal)
    first = np.cross(normal, [0, 0, 1] if abs(normal[2]) < 0.9 else [1, 0, 0])
    first /= np.linalg.norm(first)
    second = np.cross(normal, first)
    step = 1e-5 * np.linalg.norm(point - camera.eye)
    pixels, good = camera.drawn([point + first * step, point - first * step, point + second * step, point - second * step])
    if not good.all():
        return None
    slopes = np.stack([pixels[0] - pixels[1], pixels[2] - pixels[3]], -1) / (2 * step)
    return float(np.linalg.svd(slopes, compute_uv=False)[1])


def facing_point(camera, block, height_m):
    """Where the level line from the eye to the block's axis first meets it, at a height, and the normal there."""
    (kind, shape), = block["shape"].items()
    at = np.array(block["at"])
    towards = at - camera.eye[:2]
    distance = np.linalg.norm(towards)
    foot = block["foot_m"]
    if kind == "RoundTaper":
        slope = (shape["foot_radius_m"] - shape["head_radius_m"]) / shape["height_m"]
        radius = shape["foot_radius_m"] - slope * (height_m - foot)
        radial = -towards / distance
        return np.array([*(at + radial * radius), height_m]), np.array([*radial, slope])
    if kind != "Box":
        return None
    axes = plan_axes(block)
    eye, ray = axes @ -towards, axes @ towards
    half = np.array([shape["width_m"], shape["depth_m"]]) / 2
    enters = [((-np.sign(ray[i]) * half[i] - eye[i]) / ray[i], i) for i in (0, 1) if ray[i] != 0]
    share, axis = max(enters)
    normal = -np.sign(ray[axis]) * axes[axis]
    return np.array([*(camera.eye[:2] + towards * share), height_m]), np.array([*normal, 0.0])


def share_in_frame(camera, block):
    """Of the surface that faces the camera, the share whose picture lies in the frame; one box or round taper alone."""
    (kind, shape), = block["shape"].items()
    axes, at, foot, height = plan_axes(block), np.array(block["at"]), block["foot_m"], shape["height_m"]
    a, b = np.meshgrid((np.arange(80) + 0.5) / 80, (np.arange(160) + 0.5) / 160)
    a, b = a.ravel(), b.ravel()
    facing = framed = 0.0
    def add(points, normals, weights):
        nonlocal facing, framed
        turned = np.sum((camera.eye - points) * normals, -1) > 0
        pixels, good = camera.drawn(points)
        facing += weights[turned].sum()
        framed += weights[turned & good & camera.inside(pixels)].sum()
    if kind == "Box":
        w, d = shape["width_m"] / 2, shape["depth_m"] / 2
        for axis, half, other in ((0, w, d), (1, d, w)):
            for sign in (-1, 1):
                local = np.zeros((len(a), 2))
                local[:, axis], local[:, 1 - axis] = sign * half, (2 * a - 1) * other
                normal = np.array([*(sign * axes[axis]), 0.0])
                points = np.column_stack([at + local @ axes, foot + b * height])
                add(points, np.tile(normal, (len(a), 1)), np.full(len(a), 2 * other * height))
        local = np.stack([(2 * a - 1) * w, (2 * b - 1) * d], -1)
        area = 4 * w * d
    else:
        r0, r1 = shape["foot_radius_m"], shape["head_radius_m"]
        turns, slope = 2 * np.pi * a, (r0 - r1) / height
        radii = r0 - slope * b * height
        circle = np.stack([np.cos(turns), np.sin(turns)], -1)
        points = np.column_stack([at + circle * radii[:, None], foot + b * height])
        add(points, np.column_stack([circle, np.full(len(a), slope)]), 2 * np.pi * radii * np.hypot(height, r0 - r1))
        local = r1 * np.sqrt(b)[:, None] * circle
        area = np.pi * r1 * r1
    points = np.column_stack([at + local @ axes, np.full(len(a), foot + height)])
    add(points, np.tile([0.0, 0, 1], (len(a), 1)), np.full(len(a), area))
    return framed / facing if facing else None


def hull(points):
    return cv2.convexHull(np.asarray(points, np.float32)).reshape(-1, 2).astype(float)


def inside_hull(polygon, count, seed):
    """Random points of a convex polygon: its corners, its sides and its inside."""
    rng = np.random.default_rng(seed)
    weights = rng.dirichlet(np.full(len(polygon), 0.3), count)
    shares = rng.random((count, 1))
    sides = polygon * 1.0, np.roll(polygon, -1, 0)
    picked = rng.integers(0, len(polygon), count)
    along = sides[0][picked] * shares + sides[1][picked] * (1 - shares)
    return np.concatenate([polygon, along, weights @ polygon])


def straightened(camera, case):
    """Where the kept rectangle lies in the frame, how far it stretches pixels over the subject, what it holds."""
    kept = case["kept"]
    level = Camera({**case["record"]["stance"], **kept}, {**case["record"]["camera"], **kept, "mapping": "Rectilinear"})
    corners = np.array(case["corners_m"])
    back = np.linalg.inv(level.matrix)

    def original(pixels):
        """The pixels of the original picture that straightening puts at these; K·R·R'⁻¹·K'⁻¹, then the lens's bend."""
        rays = np.column_stack([pixels - CENTRE, np.ones(len(pixels))]) @ back.T @ level.rotation
        return camera.drawn(camera.eye + rays * 100)

    width, height = level.size
    t = np.linspace(0, 1, 101)
    border = np.concatenate(
        [np.stack([t * width, 0 * t], -1), np.stack([t * width, 0 * t + height], -1),
         np.stack([0 * t, t * height], -1), np.stack([0 * t + width, t * height], -1)]
    )
    pixels, good = original(border)
    excess = np.maximum(-pixels, pixels - camera.size).max() if good.all() else FAR
    subject, _ = level.drawn(corners)
    outline = hull(subject)
    points = inside_hull(outline, 4000, 7)
    step = 0.05
    columns = [(original(points + offset)[0] - original(points - offset)[0]) / (2 * step)
               for offset in (np.array([step, 0]), np.array([0, step]))]
    slopes = np.stack(columns, -1)
    stretch = 1 / np.linalg.svd(slopes, compute_uv=False)[:, 1]
    answer = {
        "frame_excess_px": float(excess),
        "largest_stretch": float(stretch.max()),
        "subject_excess_px": float(np.maximum(-subject, subject - level.size).max()),
        "margins": [float(subject[:, 0].min() / width), float(1 - subject[:, 0].max() / width),
                    float(subject[:, 1].min() / height), float(1 - subject[:, 1].max() / height)],
    }
    if not camera.coefficients.any() and camera.words["mapping"] == "Rectilinear":
        # The picture warped by OpenCV: a white frame must fill the whole rectangle, a hair of its border left out.
        scale = 400 / max(level.size)
        shrink = np.array([[scale, 0, 0], [0, scale, 0], [0, 0, 1]])
        homography = shrink @ level.matrix @ level.rotation @ camera.rotation.T @ np.linalg.inv(camera.matrix)
        small = 800 / max(camera.size)
        white = np.full((int(camera.size[1] * small), int(camera.size[0] * small)), 255, np.uint8)
        warped = cv2.warpPerspective(
            white, homography @ np.diag([1 / small, 1 / small, 1]), tuple(int(side * scale) for side in level.size)
        )
        answer["warped_empty"] = int((warped[3:-3, 3:-3] < 255).sum())
        answer["larger_fits"] = larger_fits(level, original, camera, subject, case)
    return answer


def larger_fits(level, original, camera, subject, case):
    """Whether a rectangle 1 % higher fits as well, with the same claim about margins, by a grid of places."""
    width, height = level.size * 1.01
    margins = [0.05, 0.05, 0.08, 0.05] if case["record"]["straightened"]["margins_kept"] else [0, 0, 0, 0]
    x = np.linspace(subject[:, 0].max() - width * (1 - margins[1]), subject[:, 0].min() - width * margins[0], 41)
    y = np.linspace(subject[:, 1].max() - height * (1 - margins[3]), subject[:, 1].min() - height * margins[2], 41)
    if x[0] > x[-1] or y[0] > y[-1]:
        return False
    left, top = (grid.ravel() for grid in np.meshgrid(x, y))
    fits = np.ones(len(left), bool)
    for right, down in ((0, 0), (1, 0), (0, 1), (1, 1)):
        pixels, good = original(np.stack([left + right * width, top + down * height], -1))
        fits &= good & camera.inside(pixels)
    return bool(fits.any())


def cut_share(camera, case):
    """The share of the subject's outline, in the levelled picture, that the frame does not show; of a plain lens."""
    if camera.coefficients.any() or camera.words["mapping"] != "Rectilinear":
        return None
    level = camera.levelled()
    corners = np.array(case["corners_m"])
    view = level.view(corners)
    if (view[:, 2] <= 0).any():
        return None
    slopes = hull(view[:, :2] / view[:, 2:])
    low, high = slopes.min(0), slopes.max(0)
    grid = np.stack(np.meshgrid(*(np.linspace(a, b, 400) for a, b in zip(low, high))), -1).reshape(-1, 2)
    around = np.ones(len(grid), bool)
    for a, b in zip(slopes, np.roll(slopes, -1, 0)):
        side = (b - a)[0] * (grid - a)[:, 1] - (b - a)[1] * (grid - a)[:, 0]
        around &= side * orientation(slopes) >= 0
    grid = grid[around]
    rays = np.column_stack([grid, np.ones(len(grid))]) @ level.rotation
    pixels, good = camera.drawn(camera.eye + 100 * rays)
    return float(1 - (good & camera.inside(pixels)).mean())


def orientation(polygon):
    x, y = polygon.T
    return np.sign(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def vanishing(camera):
    u, v, w = camera.rotation @ [0, 0, 1]
    f, rise, shift = (camera.words[key] for key in ("focal_mm", "rise_mm", "shift_mm"))
    return [f * u - shift * w, -f * v - rise * w, w]


def answer(case):
    record, blocks = case["record"], case["blocks"]
    camera = Camera(record["stance"], record["camera"])
    lines = record["verticals"] + record["flanks"]
    chosen = lines[:: max(1, len(lines) // 30)]
    answers = {
        "lines": [line(camera, entry) for entry in chosen],
        "bounding_leans_deg": bounding_leans(camera, blocks),
        "distance_m": plan_distance(camera, blocks),
        "vanishing": vanishing(camera),
        "seen_taper": taper(camera, lines, case["body"]),
        "shape_taper": taper(camera.levelled(), lines, case["body"]),
        "named_detail": None,
        "lowest_detail": None,
        "top_elevation_deg": None,
        "in_frame_share": None,
        "straightened": None,
        "cut_share": None,
    }
    body = next(block for block in blocks if block["name"] == case["body"])
    foot, head = body["foot_m"], body["foot_m"] + next(iter(body["shape"].values()))["height_m"]
    places = [facing_point(camera, body, foot + share * (head - foot)) for share in (1e-3, 0.5, 1 - 1e-3)]
    if case["plain"] and places[0] is not None:
        answers["named_detail"] = [detail(camera, *place) for place in places]
        away = np.linalg.norm(places[2][0][:2] - camera.eye[:2])
        answers["top_elevation_deg"] = float(np.degrees(np.arctan2(head - camera.eye[2], away)))
    if case["worst"]:
        answers["lowest_detail"] = detail(camera, case["worst"]["point_m"], case["worst"]["normal"])
    if case["plain"] and len(blocks) == 1:
        answers["in_frame_share"] = share_in_frame(camera, body)
    if case["kept"]:
        answers["straightened"] = straightened(camera, case)
    else:
        answers["cut_share"] = cut_share(camera, case)
    return answers


if __name__ == "__main__":
    cv2.setNumThreads(1)
    cases = json.load(sys.stdin)
    json.dump([answer(case) for case in cases], sys.stdout, allow_nan=False)
