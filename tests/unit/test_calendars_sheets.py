"""Files in sheets: zlib and gzip of the standard library are the reference (RFC 1950 to 1952)."""

import gzip
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.calendars.sheets import Sheet, bound, combined, index_of, tag_of, unbound

PIECES = st.lists(
    st.binary(max_size=400) | st.binary(min_size=1, max_size=9).map(lambda b: b * 99), max_size=6
)


@given(PIECES)
def test_bound_sheets_are_one_gzip_member_of_all_they_say(pieces: list[bytes]) -> None:
    """RFC 1952, 2.2: readers that stop after the first member must have read everything."""
    zipped = bound([Sheet.of(str(number), piece) for number, piece in enumerate(pieces)])
    reader = zlib.decompressobj(16 + zlib.MAX_WBITS)
    assert reader.decompress(zipped) == b"".join(pieces) == gzip.decompress(zipped)
    assert reader.eof
    assert reader.unused_data == b""


@given(PIECES)
def test_a_bound_file_is_taken_apart_again(pieces: list[bytes]) -> None:
    sheets = [Sheet.of(str(number), piece) for number, piece in enumerate(pieces)]
    again = unbound(bound(sheets), index_of(sheets))
    assert again == sheets
    assert [sheet.plain() for sheet in again] == pieces


@given(st.binary(max_size=300), st.binary(max_size=300))
def test_the_check_of_two_pieces_is_that_of_their_whole(first: bytes, second: bytes) -> None:
    assert combined(zlib.crc32(first), zlib.crc32(second), len(second)) == zlib.crc32(first + second)


@given(st.lists(st.sampled_from([b"", b"a", b"b", b"ab"]), min_size=1, max_size=4), st.integers(0, 3))
def test_another_byte_is_another_tag(pieces: list[bytes], which: int) -> None:
    which %= len(pieces)
    other = [*pieces[:which], pieces[which] + b"!", *pieces[which + 1 :]]
    first, second = ([Sheet.of(str(n), p) for n, p in enumerate(each)] for each in (pieces, other))
    assert tag_of(first) != tag_of(second)
    assert tag_of(first) == tag_of([Sheet.of(str(n), p) for n, p in enumerate(pieces)])


def test_a_damaged_sheet_is_refused() -> None:
    sheet = Sheet.of("2026-11", b"BEGIN:VEVENT" * 9)
    (damaged,) = unbound(bound([Sheet.of("2026-11", b"BEGIN:VEVENX" * 9)]), index_of([sheet]))
    with pytest.raises(ValueError, match="2026-11"):
        damaged.plain()
