"""Pictures are kept small and without what the camera wrote into them."""

import io
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.storage import default_storage
from PIL import Image

from landscape_care.people.actions import add_user
from landscape_care.people.models import Role, User
from landscape_care.properties import actions, pictures
from landscape_care.properties.models import Photo, Property
from landscape_care.trades.limits import Refused
from tests.integration.gardens import PLACE, TODAY, add_property

ORIENTATION, CAMERA, GPS = 0x0112, 0x0110, 0x8825


def picture(
    width: int = 60, height: int = 40, form: str = "JPEG", mode: str = "RGB", **options: Any
) -> io.BytesIO:
    written = io.BytesIO()
    Image.new(mode, (width, height), "olive").save(written, form, **options)
    written.seek(0)
    return written


def snapped() -> io.BytesIO:
    """A picture as a phone makes it: lying on its side, with camera and place inside."""
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    exif[CAMERA] = "PocketCam 7"
    exif.get_ifd(GPS)[2] = (35.0, 9.0, 0.0)
    return picture(exif=exif, comment=b"gate 4417")


def test_place_camera_and_comment_are_gone_and_the_picture_stands_upright() -> None:
    kept = pictures.kept(snapped())
    image = Image.open(io.BytesIO(kept))
    assert image.size == (40, 60)
    assert not dict(image.getexif())
    assert b"PocketCam" not in kept
    assert b"4417" not in kept


@pytest.mark.parametrize(("form", "mode"), [("JPEG", "L"), ("PNG", "RGBA"), ("PNG", "P"), ("WEBP", "RGB")])
def test_a_large_picture_of_each_allowed_form_becomes_a_small_jpeg(form: str, mode: str) -> None:
    image = Image.open(io.BytesIO(pictures.kept(picture(4000, 1000, form, mode))))
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (2048, 512))


def many_pixels() -> io.BytesIO:
    """A PNG that says it is 60,000 pixels square and holds next to nothing (PNG specification, 11.2.2)."""
    body = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0)
    chunks = [(b"IHDR", body), (b"IDAT", zlib.compress(b"")), (b"IEND", b"")]
    parts = [struct.pack(">I", len(c)) + t + c + struct.pack(">I", zlib.crc32(t + c)) for t, c in chunks]
    return io.BytesIO(b"\x89PNG\r\n\x1a\n" + b"".join(parts))


HOSTILE: dict[str, Callable[[], io.BytesIO]] = {
    "a page": lambda: io.BytesIO(b"<svg onload=alert(1)>"),
    "nothing": lambda: io.BytesIO(b""),
    "half a picture": lambda: io.BytesIO(picture(800, 800).getvalue()[:400]),
    "a GIF": lambda: picture(form="GIF"),
    "a TIFF": lambda: picture(form="TIFF"),
    "3600 megapixels": many_pixels,
    "51 megapixels": lambda: picture(10_200, 5_000, "PNG", "1"),
    "13 MB": lambda: io.BytesIO(picture().getvalue() + b"\x00" * 13 * 1024 * 1024),
}


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_file_is_refused_in_words(what: str) -> None:
    with pytest.raises(Refused) as caught:
        pictures.kept(HOSTILE[what]())
    assert caught.value.problems[0].field == "picture"


# --- On the record ----------------------------------------------------------------------------


@pytest.fixture
def place(db: None, settings: Any, tmp_path: Path) -> Property:
    settings.MEDIA_ROOT = tmp_path
    return add_property()


def files_in(folder: Any) -> list[Path]:
    return [path for path in Path(folder).rglob("*") if path.is_file()]


def test_a_kept_picture_has_a_name_that_nobody_can_guess(place: Property, settings: Any) -> None:
    crew = add_user("crew", "a long password", role=Role.CREW)
    photo = actions.add_photo(place, snapped(), caption="Gate", by=crew)
    assert photo.by == crew
    name = str(photo.picture.name)
    assert name.startswith("photos/")
    # A random UUID, RFC 9562 version 4.
    assert Path(name).stem[14] == "4"
    assert len(files_in(settings.MEDIA_ROOT)) == 1
    assert default_storage.exists(name)


def test_a_picture_belongs_to_a_thing_of_its_property(place: Property, settings: Any) -> None:
    other = actions.add_property(PLACE | {"code": "casa-15"}, by=None, today=TODAY)
    drain = actions.install(other, "drain", {"tag": "D1"}, by=None)
    with pytest.raises(Refused):
        actions.add_photo(place, picture(), thing=drain, by=None)
    assert actions.add_photo(other, picture(), thing=drain, by=None).thing_id == drain.pk
    assert len(files_in(settings.MEDIA_ROOT)) == 1


def test_an_owner_adds_no_picture(place: Property, settings: Any) -> None:
    owner = add_user("owner", "a long password", role=Role.OWNER)
    with pytest.raises(PermissionDenied):
        actions.add_photo(place, picture(), by=owner)
    assert not files_in(settings.MEDIA_ROOT)


def test_a_picture_whose_row_cannot_be_written_leaves_no_file(place: Property, settings: Any) -> None:
    nobody = User(role=Role.CREW)
    with pytest.raises(ValueError, match="unsaved"):
        actions.add_photo(place, picture(), by=nobody)
    assert not Photo.objects.exists()
    assert not files_in(settings.MEDIA_ROOT)
