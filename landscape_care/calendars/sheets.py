"""A calendar file in sheets, one for each month, that are zipped apart and bound into one gzip member.

Each sheet ends with a full flush of deflate (RFC 1951, 3.2.4): it leans on nothing before it, so
a changed month is zipped alone while readers get an ordinary gzip file of one member (RFC 1952,
2.3). The check over the whole is combined from those of the sheets, by arithmetic in GF(2).
"""

import struct
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256

LEVEL = 6
_HEADER = bytes((0x1F, 0x8B, 8, 0, 0, 0, 0, 0, 0, 0xFF))  # deflate, no name, no time, unknown system
_LAST_BLOCK = b"\x03\x00"  # an empty block of fixed codes that says it is the last
_POLYNOMIAL = 0xEDB88320  # of the CRC-32 of RFC 1952, 8, lowest power in the highest bit
_ONE = 1 << 31


@dataclass(frozen=True, slots=True)
class Sheet:
    """A part of a file: its name, length and CRC-32 before zipping, a print of it, and it zipped."""

    name: str
    size: int
    check: int
    print: str
    zipped: bytes

    @classmethod
    def of(cls, name: str, plain: bytes) -> "Sheet":
        """A sheet of plain bytes."""
        pack = zlib.compressobj(LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
        zipped = pack.compress(plain) + pack.flush(zlib.Z_FULL_FLUSH)
        return cls(name, len(plain), zlib.crc32(plain), print_of(plain), zipped)

    def plain(self) -> bytes:
        """What it says; an error where its bytes were damaged."""
        found = zlib.decompressobj(-zlib.MAX_WBITS).decompress(self.zipped)
        if zlib.crc32(found) != self.check:
            raise ValueError(f"sheet {self.name}: its bytes do not fit its CRC {self.check:#010x}")
        return found


def print_of(plain: bytes) -> str:
    """A digest of 96 bits by which a sheet is known again."""
    return sha256(plain).hexdigest()[:24]


def bound(sheets: Sequence[Sheet]) -> bytes:
    """The gzip file of sheets in their order."""
    check, size = 0, 0
    for sheet in sheets:
        check, size = combined(check, sheet.check, sheet.size), size + sheet.size
    trailer = struct.pack("<II", check, size & 0xFFFFFFFF)
    return b"".join([_HEADER, *(sheet.zipped for sheet in sheets), _LAST_BLOCK, trailer])


def tag_of(sheets: Iterable[Sheet]) -> str:
    """A name for the whole that is another one as soon as one byte is."""
    return sha256("\n".join(f"{sheet.name} {sheet.print}" for sheet in sheets).encode()).hexdigest()[:32]


def index_of(sheets: Iterable[Sheet]) -> list[list[str | int]]:
    """What is needed to take a bound file apart again."""
    return [[sheet.name, sheet.size, sheet.check, sheet.print, len(sheet.zipped)] for sheet in sheets]


def unbound(zipped: bytes, index: Iterable[Sequence[str | int]]) -> list[Sheet]:
    """The sheets of a bound file."""
    found, begins = [], len(_HEADER)
    for name, size, check, digest, length in index:
        ends = begins + int(length)
        found.append(Sheet(str(name), int(size), int(check), str(digest), zipped[begins:ends]))
        begins = ends
    return found


def combined(first: int, second: int, second_size: int) -> int:
    """The CRC-32 of two pieces one after the other, from theirs and the length of the second in bytes."""
    return _times(first, _shift(second_size)) ^ second


@lru_cache(maxsize=4096)
def _shift(size: int) -> int:
    """The power of x by which a CRC moves on over so many bytes, modulo the polynomial."""
    power, square, left = _ONE, _ONE >> 8, size  # x to the 8th for one byte
    while left:
        if left & 1:
            power = _times(power, square)
        square, left = _times(square, square), left >> 1
    return power


def _times(a: int, b: int) -> int:
    """The product of two polynomials over GF(2), modulo the polynomial of the CRC."""
    product = 0
    while a:
        if a & _ONE:
            product ^= b
        a = a << 1 & 0xFFFFFFFF
        b = b >> 1 ^ (_POLYNOMIAL if b & 1 else 0)
    return product
