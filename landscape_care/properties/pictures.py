"""Pictures as they may be kept: small, upright, and without what a camera writes into them."""

import warnings
from io import BytesIO
from typing import IO

from PIL import Image, ImageOps, UnidentifiedImageError

from landscape_care.trades.limits import Problem, Refused

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 50_000_000
LONGEST_SIDE_PX = 2048
FORMATS = ("JPEG", "PNG", "WEBP")
_QUALITY = 85


def kept(picture: IO[bytes]) -> bytes:
    """A JPEG of at most 2048 px a side made from an uploaded picture; `Refused` for anything else.

    The pixels are copied into a fresh file, so place, time, camera and any hidden payload are left behind.
    """
    content = picture.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise _refused("a larger file", f"a picture of at most {MOST_BYTES // 1024 // 1024} MB")
    with _opened(content) as image:
        return _as_jpeg(_upright(image))


def _opened(content: bytes) -> Image.Image:
    try:
        with warnings.catch_warnings():
            # Our own limit on pixels is below the one that Pillow warns about.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(BytesIO(content), formats=FORMATS)
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError):
        raise _refused("not a picture", "a JPEG, PNG or WebP picture") from None
    if image.width * image.height > MOST_PIXELS:
        raise _refused(f"{image.width} x {image.height}", f"at most {MOST_PIXELS // 1_000_000} megapixels")
    return image


def _upright(image: Image.Image) -> Image.Image:
    try:
        image.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    except (OSError, SyntaxError, ValueError, EOFError):
        raise _refused("a broken picture", "a picture that opens") from None
    return upright


def _as_jpeg(image: Image.Image) -> bytes:
    colours = image.convert("RGBA")
    paper = Image.new("RGB", colours.size, "white")
    paper.paste(colours, mask=colours.getchannel("A"))
    written = BytesIO()
    paper.save(written, "JPEG", quality=_QUALITY, optimize=True)
    return written.getvalue()


def _refused(value: object, wanted: str) -> Refused:
    return Refused([Problem("picture", value, wanted)])
