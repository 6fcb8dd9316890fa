"""Which typefaces the maker draws with: those found installed, or in a folder of one's own.

Print is set in the text typefaces that Debian packages (fonts-liberation, fonts-dejavu-core,
fonts-crosextra-carlito, fonts-crosextra-caladea, fonts-texgyre, fonts-lato, fonts-open-sans,
fonts-comic-neue). Handwriting typefaces, all under open licences, come from
fonts-dkg-handwriting, fonts-breip and fonts-rufscript. Typefaces with capitals only are not
used: their ink would not say what its label says.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from .typeset import Face, characters_of

SYSTEM_FOLDERS = (
    Path("/usr/share/fonts"),
    Path("/usr/local/share/fonts"),
    Path("/usr/share/texmf/fonts/opentype"),
)
PRINT_FILES = (
    "LiberationSerif-Regular.ttf",
    "LiberationSans-Regular.ttf",
    "DejaVuSerif.ttf",
    "DejaVuSans.ttf",
    "Carlito-Regular.ttf",
    "Caladea-Regular.ttf",
    "texgyrepagella-regular.otf",
    "texgyreschola-regular.otf",
    "texgyreheros-regular.otf",
    "texgyretermes-regular.otf",
    "Lato-Regular.ttf",
    "OpenSans-Regular.ttf",
    "ComicNeue-Regular.ttf",
    "ComicNeue-Regular.otf",
)
HAND_FILES = (
    "dkg.ttf",
    "Breip.ttf",
    "Rufscript010.ttf",
)
STAND_IN_FILES = ("DejaVuSans.ttf", "LiberationSans-Regular.ttf")
NEEDED_IN_PRINT = frozenset("0123456789+=×·−µ()?")


class NoTypefaces(RuntimeError):
    """No typeface to draw with; the message names the packages to install."""


@lru_cache(maxsize=1)
def _installed() -> dict[str, Path]:
    found: dict[str, Path] = {}
    for folder in SYSTEM_FOLDERS:
        if folder.is_dir():
            for path in sorted(folder.rglob("*.[ot]tf")):
                found.setdefault(path.name, path)
    return found


def _stand_ins() -> tuple[Path, ...]:
    return tuple(_installed()[name] for name in STAND_IN_FILES if name in _installed())


def print_faces() -> list[Face]:
    """Typefaces for print that are installed and have every needed character."""
    paths = [_installed()[name] for name in PRINT_FILES if name in _installed()]
    faces = [Face(p, _stand_ins()) for p in paths if characters_of(p) >= NEEDED_IN_PRINT]
    if not faces:
        raise NoTypefaces("No text typeface was found. Install fonts-dejavu-core.")
    return faces


def hand_files() -> list[Path]:
    """Handwriting typefaces that are installed."""
    paths = [_installed()[name] for name in HAND_FILES if name in _installed()]
    if not paths:
        raise NoTypefaces(
            "No handwriting typeface was found. Install fonts-dkg-handwriting, fonts-breip and "
            "fonts-rufscript, or give real strokes with --ink FOLDER."
        )
    return paths
