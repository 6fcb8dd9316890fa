"""What phones, scanners, paper and pens do to a line, on whole batches at once.

Runs on the GPU during training and on the CPU for evaluation. Every effect is
drawn anew for every line and keeps the label true: ink is thinned and faded but
never wiped out, and nothing is cut off at the edges. Lines with stacked
fractions, whose figures are small, are spared the coarsest blur.
"""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F
from torch import Tensor

_KERNEL = 9  # pixels, side of the blur kernels
# The luminance table of the JPEG standard (ITU-T T.81, table K.1).
_JPEG_TABLE = (
    (16, 11, 10, 16, 24, 40, 51, 61),
    (12, 12, 14, 19, 26, 58, 60, 55),
    (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62),
    (18, 22, 37, 56, 68, 109, 103, 77),
    (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101),
    (72, 92, 95, 98, 112, 100, 103, 99),
)


class Dice:
    """Random numbers of one batch: one draw a line, shaped to multiply (line, height, width)."""

    def __init__(self, lines: int, device: torch.device, generator: torch.Generator | None):
        self.lines, self.device, self.generator = lines, device, generator

    def uniform(self, low: float | Tensor, high: float | Tensor) -> Tensor:
        draw = torch.rand((self.lines, 1, 1), device=self.device, generator=self.generator)
        return low + (high - low) * draw

    def chance(self, probability: float) -> Tensor:
        return (self.uniform(0.0, 1.0) < probability).float()

    def normal(self, *shape: int) -> Tensor:
        return torch.randn(shape, device=self.device, generator=self.generator)

    def field(self, rows: int, columns: int, height: int, width: int) -> Tensor:
        """A smooth random field (line, height, width) with about unit spread."""
        coarse = self.normal(self.lines, 1, rows, columns)
        return F.interpolate(coarse, (height, width), mode="bicubic", align_corners=True)[:, 0]


def degrade(
    images: Tensor,
    widths: Tensor,
    delicate: Tensor,
    generator: torch.Generator | None = None,
    strength: float = 1.0,
) -> Tensor:
    """Photo-like versions of clean lines.

    Args:
        images: uint8 (line, height, width); height and width are multiples of 8.
        widths: (line,) columns that are not padding.
        delicate: (line,) bool, true for lines with small figures (stacked fractions).
        strength: 0 leaves geometry and sharpness nearly alone, 1 is for training.

    Returns:
        float (line, height, width), grey levels 0 ... 255.
    """
    lines, height, width = images.shape
    dice = Dice(lines, images.device, generator)
    fine = delicate.float()[:, None, None]
    brightness = images.float() / 255.0
    paper = brightness[:, ::4, ::4].flatten(1).quantile(0.9, dim=1)[:, None, None]
    ink = (1.0 - brightness / paper.clamp(min=0.2)).clamp(0.0, 1.0)
    ink = warp(ink, widths, dice, strength)
    ink = stroke_width(ink, dice, fine, strength)
    ink = pen(ink, dice)
    ink = show_through(ink, dice)
    image = paper_and_light(dice, height, width) * (1.0 - ink)
    image = blur(image, dice, fine, strength)
    image = resample(image, dice, delicate)
    image = image + dice.chance(0.6) * dice.uniform(0.0, 0.06) * dice.normal(*image.shape)
    image = image.clamp(0.0, 1.0) ** dice.uniform(-0.5, 0.5).exp()
    image = jpeg(image, dice)
    return image.clamp(0.0, 1.0) * 255.0


def warp(ink: Tensor, widths: Tensor, dice: Dice, strength: float) -> Tensor:
    """Rotation, slant, stretch, perspective and elastic waves; shrinks so that all ink stays."""
    lines, height, width = ink.shape
    own = widths.float()[:, None, None]
    y = (torch.arange(height, device=ink.device) + 0.5 - height / 2)[None, :, None]
    x = torch.arange(width, device=ink.device)[None, None, :] + 0.5 - own / 2
    steepest = (0.3 * height / own).clamp(max=math.tan(math.radians(4.0)))
    slope = strength * dice.uniform(-1.0, 1.0) ** 3 * steepest
    slant = strength * dice.uniform(-0.35, 0.35) * dice.chance(0.7)
    keystone = strength * dice.uniform(-0.12, 0.12) * dice.chance(0.3)
    across = 2 * max(2, width // 48)
    sway = strength * dice.uniform(0.0, 0.028) * height * dice.chance(0.8)
    moved_x = dice.field(4, across, height, width) * sway
    moved_y = dice.field(3, across, height, width) * sway * 0.8
    room_x = 1.0 + (2 * slant.abs() * height / 2 + 2 * sway) / own
    room_y = 1.0 + (slope.abs() * own + 2 * sway) / height + keystone.abs()
    fuller_x = dice.uniform(1.0, 1.0 + 0.15 * strength)
    fuller_y = dice.uniform(1.0, 1.0 + 0.25 * strength)
    grown = torch.maximum(room_x * fuller_x, 0.7 * room_y)
    stretched_y = y * (1.0 + keystone * x / own * 2.0) * room_y * fuller_y
    source_x = x * grown + slant * y + moved_x + own / 2
    source_y = stretched_y + slope * x + moved_y + height / 2
    grid = torch.stack((source_x / width * 2 - 1, source_y / height * 2 - 1), -1)
    return F.grid_sample(ink[:, None], grid, align_corners=False, padding_mode="zeros")[:, 0]


def stroke_width(ink: Tensor, dice: Dice, fine: Tensor, strength: float) -> Tensor:
    """Bolder or thinner strokes, never by a whole pixel at the thin end."""
    bold = F.max_pool2d(ink[:, None], 3, 1, 1)[:, 0]
    thin = -F.max_pool2d(-ink[:, None], 3, 1, 1)[:, 0]
    amount = strength * dice.uniform(-1.0, 1.0)
    bolder = amount.clamp(min=0.0) * (1.0 - 0.6 * fine) * 0.9
    thinner = (-amount).clamp(min=0.0) * 0.45
    return ink + bolder * (bold - ink) + thinner * (thin - ink)


def pen(ink: Tensor, dice: Dice) -> Tensor:
    """Contrast of the ink: hard scans, pale ink, pencil grain, strokes that fade and return."""
    _, height, width = ink.shape
    hard = dice.chance(0.15)
    ink = ink + hard * (((ink - 0.15) / 0.5).clamp(0.0, 1.0) - ink)
    grain = dice.chance(0.25) * dice.uniform(0.0, 0.5)
    grains = torch.rand(ink.shape, device=ink.device, generator=dice.generator)
    ink = ink * (1.0 - grain * grains)
    fade = dice.chance(0.25) * dice.uniform(0.0, 0.45)
    ink = ink * (1.0 - fade * dice.field(3, max(3, width // 40), height, width).sigmoid())
    return ink * torch.where(dice.chance(0.3) > 0, dice.uniform(0.18, 0.5), dice.uniform(0.5, 1.0))


def show_through(ink: Tensor, dice: Dice) -> Tensor:
    """The back of the sheet: another line, mirrored, blurred and faint."""
    if len(ink) < 2:
        return ink
    other = F.avg_pool2d(ink.roll(1, 0).flip(2)[:, None], 3, 1, 1)[:, 0]
    return torch.maximum(ink, dice.chance(0.08) * dice.uniform(0.05, 0.25) * other)


def paper_and_light(dice: Dice, height: int, width: int) -> Tensor:
    """Brightness of the empty sheet: tint, slope of light, shadow edge, fibres."""
    y = torch.linspace(-0.5, 0.5, height, device=dice.device)[None, :, None]
    x = torch.linspace(-0.5, 0.5, width, device=dice.device)[None, None, :]
    light = dice.uniform(0.55, 1.0)
    light = light * (1.0 + dice.uniform(-0.3, 0.3) * x + dice.uniform(-0.15, 0.15) * y)
    edge = (x + dice.uniform(-0.3, 0.3) * y + dice.uniform(-0.6, 0.6)) * dice.uniform(8.0, 80.0)
    light = light * (1.0 - dice.chance(0.2) * dice.uniform(0.1, 0.45) * edge.sigmoid())
    fibres = dice.field(max(2, height // 4), max(2, width // 4), height, width)
    return light * (1.0 + dice.chance(0.4) * dice.uniform(0.0, 0.03) * fibres)


def blur(image: Tensor, dice: Dice, fine: Tensor, strength: float) -> Tensor:
    """Lens and motion blur: a slanted Gaussian of its own for every line."""
    lines = len(image)
    steps = torch.arange(_KERNEL, device=image.device).float() - _KERNEL // 2
    dy, dx = steps[None, :, None], steps[None, None, :]
    most = strength * (1.3 - 0.6 * fine)
    narrow = 0.25 + dice.chance(0.7) * dice.uniform(0.0, most)
    wide = narrow + dice.chance(0.2) * dice.uniform(0.0, most)
    turn = dice.uniform(0.0, math.pi)
    along, over = dx * turn.cos() + dy * turn.sin(), dy * turn.cos() - dx * turn.sin()
    kernels = torch.exp(-0.5 * ((along / wide) ** 2 + (over / narrow) ** 2))
    kernels = kernels / kernels.sum((1, 2), keepdim=True)
    padded = F.pad(image[None], [_KERNEL // 2] * 4, mode="replicate")
    return F.conv2d(padded, kernels[:, None], groups=lines)[0]


def resample(image: Tensor, dice: Dice, delicate: Tensor) -> Tensor:
    """Too few pixels: some lines are scaled down and up again."""
    lines, height, width = image.shape
    coarse_lines = torch.rand(lines, device=image.device, generator=dice.generator)
    out = image
    for group in range(4):
        chosen = (coarse_lines >= 0.1 * group) & (coarse_lines < 0.1 * group + 0.1)
        least = min(height, 20.0 if group % 2 == 0 else 44.0)
        draw = float(torch.rand((), generator=dice.generator))
        rows = round(least * (height / least) ** draw)
        if group % 2 == 0:
            chosen = chosen & ~delicate
        columns = max(8, round(width * rows / height))
        small = F.interpolate(image[:, None], (rows, columns), mode="area")
        back = F.interpolate(small, (height, width), mode="bilinear")[:, 0]
        out = torch.where(chosen[:, None, None], back, out)
    return out


def jpeg(image: Tensor, dice: Dice) -> Tensor:
    """The loss of a JPEG at a quality drawn for every line: 8 by 8 cosine blocks, rounded."""
    lines, height, width = image.shape
    place = torch.arange(8, device=image.device).float()
    cosines = torch.cos((2 * place[None, :] + 1) * place[:, None] * math.pi / 16) / 2
    cosines[0] /= math.sqrt(2)
    blocks = image.view(lines, height // 8, 8, width // 8, 8).transpose(2, 3) * 255.0 - 128.0
    step = torch.tensor(_JPEG_TABLE, device=image.device, dtype=torch.float32)
    step = (step * dice.uniform(0.1, 1.6)[:, :, :, None, None]).clamp(min=1.0)
    waves = cosines @ blocks @ cosines.T
    back = cosines.T @ ((waves / step).round() * step) @ cosines
    back = ((back + 128.0) / 255.0).transpose(2, 3).reshape(lines, height, width)
    return torch.where(dice.chance(0.35) > 0, back, image)
