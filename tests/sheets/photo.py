"""Turns a drawn page into a photo of a sheet on a desk, with the exact mapping kept.

The page is a surface in space (a flat sheet, or one with a slight curl), the camera a
pinhole. Page coordinates are millimetres from the top left corner; photo coordinates are
pixels of the photo as it is meant to be seen (EXIF orientation already obeyed).
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from PIL import Image

PAGE_MM = (210.0, 297.0)
Level = Literal["scan", "good", "fair", "poor"]
LEVELS: tuple[Level, ...] = ("scan", "good", "fair", "poor")
DESKS = ("wood", "cloth", "dark", "white", "clutter")


@dataclass(frozen=True)
class Conditions:
    """How the photo was taken. Angles in degrees, curl in millimetres, the rest relative."""

    level: Level
    megapixels: float
    desk: str
    quarter_turns: int
    roll: float
    tilt: tuple[float, float]
    curl: float
    shadow: float
    gradient: float
    warmth: float
    exposure: float
    blur: float
    motion: float
    noise: float
    quality: int
    fill: float
    orientation_tag: int
    gps: bool


@dataclass(frozen=True)
class Photo:
    """JPEG bytes, the size as seen, and points of the page in the photo."""

    jpeg: bytes
    size: tuple[int, int]
    homography: np.ndarray
    corners: np.ndarray
    grid_mm: np.ndarray
    grid_px: np.ndarray


def conditions(level: Level, rng: np.random.Generator) -> Conditions:
    """Draw the circumstances of one photo of the given level."""
    step = LEVELS.index(level)
    tilt = (0.0, 5.0, 10.0, 16.0)[step]
    return Conditions(
        level=level,
        megapixels=float(rng.uniform(*((4, 9), (4, 12), (3, 10), (2, 6))[step])),
        desk="none" if level == "scan" else str(rng.choice(DESKS)),
        quarter_turns=0 if level == "scan" or rng.random() < 0.55 else int(rng.integers(1, 4)),
        roll=float(rng.normal(0, (0.4, 1.5, 3.0, 4.5)[step])),
        tilt=(float(rng.normal(0, tilt / 2)), float(rng.normal(0, tilt / 2))),
        curl=float((0, 1.5, 4, 7)[step] * rng.uniform(-1, 1)),
        shadow=float((0, 0.12, 0.3, 0.42)[step] * rng.uniform(0.2, 1)),
        gradient=float((0.02, 0.12, 0.25, 0.4)[step] * rng.uniform(0.3, 1)),
        warmth=float((0.01, 0.05, 0.09, 0.12)[step] * rng.uniform(-1, 1)),
        exposure=float(1 - (0.02, 0.12, 0.25, 0.42)[step] * rng.uniform(0, 1)),
        blur=float((0.3, 0.4, 0.7, 1.0)[step] * rng.uniform(0.6, 1.2)),
        motion=float((0, 0, 1.0, 2.2)[step] * rng.uniform(0, 1)),
        noise=float((0.6, 2.0, 4.0, 7.0)[step] * rng.uniform(0.6, 1.2)),
        quality=int(rng.integers(*((88, 95), (82, 93), (70, 88), (55, 76))[step])),
        fill=float(rng.uniform(*((1, 1.001), (0.86, 0.95), (0.78, 0.93), (0.72, 0.9))[step])),
        orientation_tag=1 if level == "scan" or rng.random() < 0.5 else int(rng.choice([3, 6, 8])),
        gps=level != "scan" and bool(rng.random() < 0.5),
    )


def take(page: np.ndarray, how: Conditions, rng: np.random.Generator) -> Photo:
    """Photograph ``page`` (uint8 RGB of the whole sheet, any resolution)."""
    camera = _Camera.aim(how)
    width, height = camera.size
    page = _near_photo_size(page, camera)
    page_map = camera.page_points(page.shape[1] / PAGE_MM[0])
    picture: np.ndarray = cv2.remap(
        page, page_map[..., 0], page_map[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float32)
    inside = camera.inside_mask(page_map, page.shape)
    if how.level != "scan":
        behind = desk(how.desk, height, width, rng)
        near = cv2.GaussianBlur(inside, (0, 0), max(2.0, width / 220))
        offset = np.array([[1, 0, width / 300], [0, 1, width / 250]], np.float32)
        drop = cv2.warpAffine(near, offset, (width, height))
        behind *= 1 - 0.45 * drop[..., None]
        picture = picture * inside[..., None] + behind * (1 - inside[..., None])
    picture *= _light(how, height, width, rng)[..., None]
    picture *= np.array([1 + how.warmth, 1.0, 1 - how.warmth], np.float32)
    scale = width / 2000
    if how.blur > 0:
        picture = cv2.GaussianBlur(picture, (0, 0), max(0.25, how.blur * max(scale, 0.7)))
    if how.motion > 0.3:
        picture = cv2.filter2D(picture, -1, _motion_kernel(how.motion * max(scale, 0.7), rng))
    picture += _noise(picture.shape, how.noise, rng)
    picture = np.clip(picture, 0, 255).astype(np.uint8)
    grid = np.stack(
        np.meshgrid(np.linspace(0, PAGE_MM[0], 8), np.linspace(0, PAGE_MM[1], 11)), axis=-1
    ).reshape(-1, 2)
    grid_px = camera.project(grid)
    homography, _ = cv2.findHomography(grid, grid_px)
    corners = camera.project(
        np.array([[0, 0], [PAGE_MM[0], 0], [PAGE_MM[0], PAGE_MM[1]], [0, PAGE_MM[1]]], float)
    )
    return Photo(
        jpeg=_encode(picture, how, rng),
        size=(width, height),
        homography=homography,
        corners=corners,
        grid_mm=grid,
        grid_px=grid_px,
    )


@dataclass(frozen=True)
class _Camera:
    size: tuple[int, int]
    focal: float
    rotation: np.ndarray
    distance: float
    shift: np.ndarray
    curl: float

    @classmethod
    def aim(cls, how: Conditions) -> _Camera:
        turned = how.quarter_turns % 2 == 1
        aspect = PAGE_MM[1] / PAGE_MM[0] if how.level == "scan" else 4 / 3
        short = np.sqrt(how.megapixels * 1e6 / aspect)
        width, height = int(short), int(short * aspect)
        if turned:
            width, height = height, width
        angle = np.radians(90 * how.quarter_turns + how.roll)
        tilt_x, tilt_y = np.radians(how.tilt)
        turn = np.array(
            [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
        )
        lean_x = np.array(
            [
                [1, 0, 0],
                [0, np.cos(tilt_x), -np.sin(tilt_x)],
                [0, np.sin(tilt_x), np.cos(tilt_x)],
            ]
        )
        lean_y = np.array(
            [
                [np.cos(tilt_y), 0, np.sin(tilt_y)],
                [0, 1, 0],
                [-np.sin(tilt_y), 0, np.cos(tilt_y)],
            ]
        )
        focal = 1.1 * max(width, height)
        camera = cls((width, height), focal, lean_x @ lean_y @ turn, 400.0, np.zeros(2), how.curl)
        return camera._fitted(how.fill)

    def _fitted(self, fill: float) -> _Camera:
        """The same camera moved until the sheet's outline fills ``fill`` of the frame."""
        camera = self
        edge = np.linspace(0, 1, 9)
        rim = np.concatenate(
            [
                np.stack([PAGE_MM[0] * edge, 0 * edge], 1),
                np.stack([PAGE_MM[0] * edge, 0 * edge + PAGE_MM[1]], 1),
                np.stack([0 * edge, PAGE_MM[1] * edge], 1),
                np.stack([0 * edge + PAGE_MM[0], PAGE_MM[1] * edge], 1),
            ]
        )
        for _ in range(12):
            points = camera.project(rim)
            low, high = points.min(0), points.max(0)
            ratio = float(((high - low) / np.array(camera.size)).max()) / fill
            centre = np.array(camera.size) / 2
            camera = _Camera(
                camera.size,
                camera.focal,
                camera.rotation,
                camera.distance * ratio,
                camera.shift + (centre - (low + high) / 2),
                camera.curl,
            )
        return camera

    def _height(self, points: np.ndarray) -> np.ndarray:
        along = points[:, 0] / PAGE_MM[0] + 0.25 * points[:, 1] / PAGE_MM[1]
        return self.curl * np.sin(np.pi * along)

    def _view(self, space: np.ndarray) -> np.ndarray:
        seen = space @ self.rotation.T
        depth = self.distance + seen[:, 2]
        centre = np.array(self.size) / 2
        return self.focal * seen[:, :2] / depth[:, None] + centre + self.shift

    def project(self, points: np.ndarray) -> np.ndarray:
        """Page millimetres (n, 2) to photo pixels."""
        middle = np.array(PAGE_MM) / 2
        space = np.column_stack([points - middle, -self._height(points)])
        return self._view(space)

    def page_points(self, pixels_per_mm: float) -> np.ndarray:
        """For every photo pixel the page pixel it shows, float32 (height, width, 2)."""
        width, height = self.size
        step = 16
        columns = np.arange(0, width + step, step)
        rows = np.arange(0, height + step, step)
        target = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2).astype(float)
        corners = np.array(
            [[0, 0], [PAGE_MM[0], 0], [PAGE_MM[0], PAGE_MM[1]], [0, PAGE_MM[1]]], float
        )
        middle = np.array(PAGE_MM) / 2
        flat = self._view(np.column_stack([corners - middle, np.zeros(4)]))
        back = np.linalg.inv(cv2.findHomography(corners, flat)[0])

        def unproject(pixels: np.ndarray) -> np.ndarray:
            return cv2.perspectiveTransform(pixels[None], back)[0]

        points = unproject(target)
        wanted = points.copy()
        for _ in range(8):
            points = points + wanted - unproject(self.project(points))
        coarse = (points * pixels_per_mm).reshape(len(rows), len(columns), 2).astype(np.float32)
        x, y = np.meshgrid(
            np.arange(width, dtype=np.float32) / step, np.arange(height, dtype=np.float32) / step
        )
        return cv2.remap(coarse, x, y, cv2.INTER_LINEAR)

    def inside_mask(self, page_map: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
        high, wide = shape[:2]
        slack = 1.0
        inside = np.minimum.reduce(
            [
                page_map[..., 0],
                wide - page_map[..., 0],
                page_map[..., 1],
                high - page_map[..., 1],
            ]
        )
        return np.clip(inside / (2 * slack) + 0.5, 0, 1).astype(np.float32)


def _near_photo_size(page: np.ndarray, camera: _Camera) -> np.ndarray:
    """The page averaged down to about the photo's resolution, so that thin strokes survive."""
    ends = camera.project(np.array([[0, 0], [PAGE_MM[0], 0], [0, PAGE_MM[1]]], float))
    across = float(np.hypot(*(ends[1] - ends[0]))) / page.shape[1]
    down = float(np.hypot(*(ends[2] - ends[0]))) / page.shape[0]
    scale = 1.15 * max(across, down)
    if scale >= 1:
        return page
    size = (round(page.shape[1] * scale), round(page.shape[0] * scale))
    return cv2.resize(page, size, interpolation=cv2.INTER_AREA)


def _smooth_noise(height: int, width: int, cells: tuple[int, int], rng) -> np.ndarray:
    small = rng.normal(0, 1, (max(2, cells[1]), max(2, cells[0]))).astype(np.float32)
    return cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC)


def desk(kind: str, height: int, width: int, rng: np.random.Generator) -> np.ndarray:
    """A table top of the kind named in ``DESKS``, float32 RGB."""
    if kind == "wood":
        base = np.array([150, 105, 66], np.float32) * np.float32(rng.uniform(0.7, 1.35))
        base += rng.uniform(-5, 5, 3).astype(np.float32)
        grain = _smooth_noise(height, width, (6, 160), rng) * 0.6
        rings = np.sin(
            _smooth_noise(height, width, (3, 14), rng) * 6 + np.linspace(0, 30, height)[:, None]
        )
        tone = 1 + 0.07 * grain + 0.06 * rings
        top = base * tone[..., None]
        for joint in np.cumsum(rng.uniform(0.25, 0.5, 4)) * height:
            row = int(joint)
            if row < height:
                top[row : row + max(2, height // 500)] *= 0.55
        return top.astype(np.float32)
    if kind == "cloth":
        base = rng.uniform([40, 50, 70], [170, 150, 180]).astype(np.float32)
        pitch = max(5, width // 250)
        x, y = np.arange(width), np.arange(height)
        weave = (
            0.5 + 0.5 * np.sin(2 * np.pi * x / pitch)[None] * np.sin(2 * np.pi * y / pitch)[:, None]
        )
        tone = 0.9 + 0.14 * weave + 0.06 * _smooth_noise(height, width, (8, 8), rng)
        top = base * tone[..., None]
        if rng.random() < 0.6:
            band = (np.sin(2 * np.pi * x / (width / rng.uniform(4, 9))) > 0.6)[None, :, None]
            top = np.where(band, top * 0.75 + 40, top)
        return top.astype(np.float32)
    if kind == "dark":
        base = rng.uniform([18, 18, 20], [60, 58, 62]).astype(np.float32)
        return (base * (1 + 0.08 * _smooth_noise(height, width, (40, 40), rng))[..., None]).astype(
            np.float32
        )
    if kind == "white":
        base = rng.uniform([170, 170, 165], [215, 213, 208]).astype(np.float32)
        speckle = 0.02 * _smooth_noise(height, width, (width // 6, height // 6), rng)
        broad = 0.04 * _smooth_noise(height, width, (5, 5), rng)
        return (base * (1 + speckle + broad)[..., None]).astype(np.float32)
    top = desk(str(rng.choice(["wood", "cloth", "dark"])), height, width, rng)
    return _with_clutter(top, rng)


def _with_clutter(top: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    height, width = top.shape[:2]
    for _ in range(int(rng.integers(3, 8))):
        colour = tuple(float(v) for v in rng.uniform(20, 235, 3))
        centre = (float(rng.uniform(0, width)), float(rng.uniform(0, height)))
        kind = rng.choice(["pen", "book", "disc"])
        if kind == "disc":
            radius = int(width * rng.uniform(0.04, 0.1))
            place = (int(centre[0]), int(centre[1]))
            cv2.circle(top, place, radius, colour, -1, cv2.LINE_AA)
            cv2.circle(
                top, place, int(radius * 0.8), tuple(0.7 * v for v in colour), -1, cv2.LINE_AA
            )
            continue
        long = width * (rng.uniform(0.3, 0.5) if kind == "pen" else rng.uniform(0.25, 0.5))
        short = width * (0.016 if kind == "pen" else rng.uniform(0.15, 0.35))
        box = cv2.boxPoints((centre, (long, short), float(rng.uniform(0, 180))))
        cv2.fillConvexPoly(top, box.astype(np.int32), colour, cv2.LINE_AA)
        cv2.polylines(
            top, [box.astype(np.int32)], True, tuple(0.6 * v for v in colour), 2, cv2.LINE_AA
        )
    return top


def _light(how: Conditions, height: int, width: int, rng: np.random.Generator) -> np.ndarray:
    x = np.linspace(-1, 1, width, dtype=np.float32)[None]
    y = np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    angle = rng.uniform(0, 2 * np.pi)
    light = 1 + how.gradient * 0.5 * (np.cos(angle) * x + np.sin(angle) * y)
    light = light * (1 - 0.25 * how.gradient * (x**2 + y**2))
    if how.shadow > 0:
        mask: np.ndarray = np.zeros((height // 4, width // 4), np.float32)
        count = int(rng.integers(1, 3))
        for _ in range(count):
            side = rng.uniform(0, 2 * np.pi)
            normal = np.array([np.cos(side), np.sin(side)])
            middle = np.array([mask.shape[1], mask.shape[0]]) * rng.uniform(0.25, 0.75, 2)
            yy, xx = np.mgrid[0 : mask.shape[0], 0 : mask.shape[1]].astype(np.float32)
            edge = (xx - middle[0]) * normal[0] + (yy - middle[1]) * normal[1]
            edge += 0.05 * mask.shape[1] * np.sin(xx / mask.shape[1] * rng.uniform(3, 9))
            mask = np.maximum(mask, (edge > 0).astype(np.float32))
        mask = cv2.GaussianBlur(mask, (0, 0), float(rng.uniform(0.006, 0.05) * width / 4))
        light = light * (1 - how.shadow * cv2.resize(mask, (width, height)))
    return (light * how.exposure).astype(np.float32)


def _motion_kernel(length: float, rng: np.random.Generator) -> np.ndarray:
    size = 2 * int(np.ceil(length)) + 1
    kernel = np.zeros((size, size), np.float32)
    angle = rng.uniform(0, np.pi)
    for at in np.linspace(-length / 2, length / 2, 21):
        x = size // 2 + at * np.cos(angle)
        y = size // 2 + at * np.sin(angle)
        kernel[round(y), round(x)] += 1
    return kernel / kernel.sum()


def _noise(shape: tuple[int, ...], strength: float, rng: np.random.Generator) -> np.ndarray:
    height, width = shape[:2]
    grey = rng.standard_normal((height, width), dtype=np.float32) * strength
    colour: np.ndarray = (
        rng.standard_normal((height // 2 + 1, width // 2 + 1, 3), dtype=np.float32) * strength
    )
    colour = cv2.resize(colour, (width, height), interpolation=cv2.INTER_LINEAR)
    return grey[..., None] + 0.6 * colour


_STORED_TURN = {
    1: None,
    3: Image.Transpose.ROTATE_180,
    6: Image.Transpose.ROTATE_90,
    8: Image.Transpose.ROTATE_270,
}


def _encode(picture: np.ndarray, how: Conditions, rng: np.random.Generator) -> bytes:
    image = Image.fromarray(picture)
    turn = _STORED_TURN[how.orientation_tag]
    if turn is not None:
        image = image.transpose(turn)
    exif = Image.Exif()
    exif[0x0112] = how.orientation_tag
    if how.level != "scan":
        exif[0x010F], exif[0x0110] = "Invented Phone Works", "Model Zero"
    if how.gps:
        degrees = rng.integers(0, 60, 6)
        exif.get_ifd(0x8825).update(
            {
                1: "N",
                2: tuple(float(v) for v in degrees[:3]),
                3: "E",
                4: tuple(float(v) for v in degrees[3:]),
            }
        )
    out = io.BytesIO()
    image.save(out, "JPEG", quality=how.quality, exif=exif)
    return out.getvalue()
