"""A film for Chromium's fake camera, changed while it runs: one test can hold up tag after tag.

The film is a raw y4m file of three frames that loop. Writing other frames into it in place, without shortening it,
changes what the running browser sees within a quarter of a second; a new file under the same name would not be read.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from inventory.services.labels import modules
from inventory.tags.code import address

SIZE = (640, 480)
FRAMES = 3
YARD = "https://yard.example"


def label(code: str, side: int = 220) -> Image.Image:
    """The QR as it is printed, quiet zone included, `side` pixels wide."""
    matrix = np.array(modules(address(YARD, code)), dtype=bool)
    cells = np.pad(~matrix, 4, constant_values=True)
    return Image.fromarray((cells * 255).astype(np.uint8)).resize((side, side), Image.Resampling.NEAREST)


def muddy(tag: Image.Image, share: float, seed: int = 1) -> Image.Image:
    """A blob of mud over this share of the tag's area, clear of its three finder patterns."""
    side, tag = tag.width, tag.copy()
    radius = side * (share / np.pi) ** 0.5
    away = random.Random(seed).uniform(-0.02, 0.02) * side
    middle = (side * 0.62 + away, side * 0.62 - away)
    box = (middle[0] - radius, middle[1] - radius, middle[0] + radius, middle[1] + radius)
    ImageDraw.Draw(tag).ellipse(box, fill=70)
    return tag


def turned(tag: Image.Image, degrees: float) -> Image.Image:
    return tag.rotate(degrees, expand=True, fillcolor=170, resample=Image.Resampling.BICUBIC)


def blurred(tag: Image.Image, sigma: float) -> Image.Image:
    return tag.filter(ImageFilter.GaussianBlur(sigma))


def frame(tags: Sequence[Image.Image]) -> Image.Image:
    """The tags side by side on grey, with a little noise; none: an empty yard."""
    scene = Image.new("L", SIZE, 170)
    across = SIZE[0] // max(1, len(tags))
    for place, tag in enumerate(tags):
        if tag.width > across:
            tag = tag.resize((across - 8, tag.height * (across - 8) // tag.width))
        scene.paste(tag, (place * across + (across - tag.width) // 2, (SIZE[1] - tag.height) // 2))
    noise = np.random.default_rng(1).normal(0, 4, (SIZE[1], SIZE[0]))
    return Image.fromarray(np.clip(np.asarray(scene) + noise, 0, 255).astype(np.uint8))


class Film:
    def __init__(self, folder: Path) -> None:
        self.path = folder / "film.y4m"
        header = f"YUV4MPEG2 W{SIZE[0]} H{SIZE[1]} F30:1 Ip A1:1 C420jpeg\n".encode()
        self.path.write_bytes(header + self._body([]))

    @property
    def flags(self) -> tuple[str, ...]:
        return (
            "--use-fake-device-for-media-stream",
            "--use-fake-ui-for-media-stream",
            f"--use-file-for-fake-video-capture={self.path}",
        )

    def show(self, *tags: str | Image.Image) -> None:
        """These codes, or tags drawn already, all in one view; nothing when there are none."""
        drawn = [label(tag) if isinstance(tag, str) else tag for tag in tags]
        with self.path.open("r+b") as file:
            file.readline()
            file.write(self._body(drawn))

    def _body(self, tags: Sequence[Image.Image]) -> bytes:
        grey = np.asarray(frame(tags), np.uint8).tobytes() + b"\x80" * (SIZE[0] * SIZE[1] // 2)
        return (b"FRAME\n" + grey) * FRAMES
