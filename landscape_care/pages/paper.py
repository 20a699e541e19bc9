"""Paper to print and to send: headings, paragraphs, tables, drawings from numbers and photos, as PDF.

The one door to fpdf2. Lengths are points on US Letter. The same contents and the same moment give the
same bytes. A character that the font has no shape for prints as U+FFFD.
"""

import io
import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil
from pathlib import Path
from typing import Literal, cast
from unicodedata import category

from fpdf import FPDF, FPDFException, ViewerPreferences
from fpdf.fonts import CoreFont, TTFFont

FONTS = Path(__file__).parent / "fonts"
SIZES = {"tall": (612.0, 792.0), "wide": (792.0, 612.0)}
MARGIN, FOOT, PAD, GAP = 42.0, 34.0, 3.0, 8.0
TEXT_PT, SMALL_PT, HEADING_PT, TITLE_PT = 9.5, 8.0, 12.5, 18.0
LEADING = 1.35
HEADING_KEEPS = 70.0
PHOTO_WIDTH, PHOTO_HEIGHT = 250.0, 190.0
LEAST_COLUMN = 24.0
LEFTOVER = "\ufffd"
# Each document would note some fifty lines about its fonts.
logging.getLogger("fontTools").setLevel(logging.WARNING)

# Red, green, blue; the tones of the pages, dark enough for one black cartridge.
SHADES: dict[str, tuple[int, int, int]] = {
    "ink": (24, 33, 28),
    "soft": (74, 85, 78),
    "hair": (201, 204, 194),
    "tint": (238, 236, 228),
    "first": (47, 107, 79),
    "second": (44, 111, 166),
    "third": (181, 98, 42),
    "fourth": (122, 106, 155),
}


@dataclass(frozen=True, slots=True)
class Title:
    """The title block: whose paper it is, what it is, of which place and day, in words."""

    company: str
    title: str
    place: str = ""
    day: str = ""


@dataclass(frozen=True, slots=True)
class Box:
    """A filled rectangle in units of its drawing, from the upper left corner."""

    x: float
    y: float
    width: float
    height: float
    shade: str = "first"


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points in units of its drawing."""

    points: tuple[tuple[float, float], ...]
    shade: str = "ink"
    thickness: float = 0.75


@dataclass(frozen=True, slots=True)
class Words:
    """Words in a drawing at a point of their base line; `size` is in units of the drawing."""

    x: float
    y: float
    text: str
    size: float = 10.0
    anchor: Literal["start", "middle", "end"] = "start"


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture from numbers; it is scaled to the width it is given."""

    width: float
    height: float
    marks: tuple[Box | Stroke | Words, ...]

    def __post_init__(self) -> None:
        if not (self.width > 0 and self.height > 0):
            raise ValueError(f"drawing is {self.width} by {self.height}: wanted numbers above 0")
        for mark in self.marks:
            shade = getattr(mark, "shade", "ink")
            if shade not in SHADES:
                raise ValueError(f"shade is {shade!r}: wanted one of {', '.join(SHADES)}")


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its head, its share of the width, and the edge its words keep to."""

    head: str
    share: float = 1.0
    align: Literal["left", "right"] = "left"

    def __post_init__(self) -> None:
        if not self.share > 0:
            raise ValueError(f"share of {self.head!r} is {self.share!r}: wanted a number above 0")


Cell = str | Drawing
Row = Sequence[Cell]
_Laid = Sequence[list[str] | Drawing]


class Paper:
    """One document, written from the top down; `to_bytes` closes it."""

    def __init__(
        self, title: Title, *, language: str, made_at: datetime, page: Literal["tall", "wide"] = "tall"
    ) -> None:
        if made_at.tzinfo is None:
            raise ValueError(f"made_at is {made_at}: wanted a moment with its time zone")
        self._title = title
        self._pdf = pdf = FPDF(unit="pt", format=SIZES[page])
        pdf.add_font("text", "", FONTS / "DejaVuSansCondensed.ttf")
        pdf.add_font("text", "B", FONTS / "DejaVuSansCondensed-Bold.ttf")
        self._known = frozenset.intersection(*(_shapes(font) for font in pdf.fonts.values()))
        pdf.set_margin(MARGIN)
        pdf.set_auto_page_break(auto=False)
        pdf.set_lang(language)
        pdf.set_creation_date(made_at)
        pdf.set_title(self._clean(f"{title.title} {title.place}".strip()))
        pdf.set_author(self._clean(title.company))
        pdf.viewer_preferences = ViewerPreferences(display_doc_title=True)
        pdf.add_page()
        self._title_block()

    @property
    def width(self) -> float:
        """Points from margin to margin."""
        return float(self._pdf.epw)

    def heading(self, text: str) -> None:
        """A heading; it stays with what follows it."""
        self._need(HEADING_KEEPS)
        self._pdf.set_y(self._pdf.get_y() + GAP)
        self._write(text, size=HEADING_PT, style="B")

    def paragraph(self, text: str) -> None:
        """A paragraph over the whole width; line breaks in it stand."""
        self._write(text, size=TEXT_PT)
        self._pdf.set_y(self._pdf.get_y() + GAP / 2)

    def remark(self, text: str) -> None:
        """A paragraph in small soft print."""
        self._write(text, size=SMALL_PT, shade="soft")
        self._pdf.set_y(self._pdf.get_y() + GAP / 2)

    def table(self, columns: Sequence[Column], rows: Sequence[Row]) -> None:
        """Rows under heads that stand again on each page; a row of one cell names the rows below it."""
        widths = self._widths(columns)
        for row in rows:
            if len(row) not in (1, len(columns)):
                raise ValueError(f"row has {len(row)} cells: wanted 1 or {len(columns)}")
        self._need(HEADING_KEEPS)
        self._heads(columns, widths)
        for row in rows:
            self._row(row, columns, widths)
        self._pdf.set_y(self._pdf.get_y() + GAP)

    def drawing(self, drawing: Drawing) -> None:
        """A picture from numbers over the whole width, or as high as a page lets it be."""
        most = self._bottom - MARGIN - 2 * GAP
        scale = min(self.width / drawing.width, most / drawing.height)
        self._need(drawing.height * scale)
        self._draw(drawing, self._pdf.l_margin, self._pdf.get_y(), scale)
        self._pdf.set_y(self._pdf.get_y() + drawing.height * scale + GAP)

    def photos(self, photos: Sequence[tuple[bytes, str]]) -> None:
        """Photos side by side, each over its caption; bytes that are no picture are refused."""
        across = max(1, int((self.width + GAP) // (PHOTO_WIDTH + GAP)))
        for start in range(0, len(photos), across):
            self._photo_row(photos[start : start + across])

    def page_break(self) -> None:
        """What follows begins on a new page."""
        self._pdf.add_page()

    def to_bytes(self) -> bytes:
        """The finished document; nothing can be added after."""
        last = self._pdf.page
        for number in range(1, last + 1):
            self._pdf.page = number
            self._foot(number, last)
        return bytes(self._pdf.output())

    # --- Where it goes ---

    @property
    def _bottom(self) -> float:
        return float(self._pdf.h) - MARGIN - FOOT / 2

    def _need(self, height: float) -> bool:
        """Begin a new page where so many points are no longer free; whether one was begun."""
        if self._pdf.get_y() + height <= self._bottom or self._pdf.get_y() <= MARGIN:
            return False
        self._pdf.add_page()
        return True

    def _title_block(self) -> None:
        title, pdf = self._title, self._pdf
        self._write(title.company, size=SMALL_PT, shade="soft")
        self._write(title.title, size=TITLE_PT, style="B")
        said = " · ".join(part for part in (title.place, title.day) if part)
        if said:
            self._write(said, size=TEXT_PT, shade="soft")
        self._rule(pdf.get_y() + PAD, "ink", 1.25)
        pdf.set_y(pdf.get_y() + PAD + GAP)

    def _foot(self, number: int, last: int) -> None:
        pdf, y = self._pdf, float(self._pdf.h) - MARGIN
        # The page may have ended in another font than the one before; only a change is written.
        self._font(TITLE_PT)
        self._font(SMALL_PT, shade="soft")
        said = " · ".join(
            part for part in (self._title.company, self._title.title, self._title.place) if part
        )
        first_line = self._lines(said, self.width - 60)[:1]
        pdf.text(pdf.l_margin, y, first_line[0] if first_line else "")
        pages = f"{number} / {last}"
        pdf.text(pdf.l_margin + self.width - pdf.get_string_width(pages), y, pages)

    def _rule(self, y: float, shade: str, thickness: float) -> None:
        pdf = self._pdf
        pdf.set_draw_color(*SHADES[shade])
        pdf.set_line_width(thickness)
        pdf.line(pdf.l_margin, y, pdf.l_margin + self.width, y)

    # --- Words ---

    def _clean(self, text: str) -> str:
        """Text without characters that steer or that the font cannot show."""
        kept = (mark for mark in text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " "))
        return "".join(self._shown(mark) for mark in kept)

    def _shown(self, mark: str) -> str:
        if mark == "\n":
            return mark
        if category(mark) in ("Cc", "Cf", "Zl", "Zp"):
            return ""
        return mark if ord(mark) in self._known else LEFTOVER

    def _font(self, size: float, style: Literal["", "B"] = "", shade: str = "ink") -> None:
        self._pdf.set_font("text", style, size)
        self._pdf.set_text_color(*SHADES[shade])

    def _lines(self, text: str, width: float) -> list[str]:
        """Text in lines of a width, in the font that is set."""
        size = float(self._pdf.font_size_pt)
        lines = self._pdf.multi_cell(
            width, size * LEADING, self._clean(text), align="L", dry_run=True, output="LINES"
        )
        return [str(line) for line in cast("list[str]", lines)]

    def _write(self, text: str, *, size: float, style: Literal["", "B"] = "", shade: str = "ink") -> None:
        self._font(size, style, shade)
        pdf, height = self._pdf, size * LEADING
        for line in self._lines(text, self.width):
            self._need(height)
            pdf.text(pdf.l_margin + pdf.c_margin, pdf.get_y() + size, line)
            pdf.set_y(pdf.get_y() + height)

    # --- Tables ---

    def _widths(self, columns: Sequence[Column]) -> list[float]:
        if not columns:
            raise ValueError("columns are empty: a table wants at least one")
        total = sum(column.share for column in columns)
        widths = [self.width * column.share / total for column in columns]
        if min(widths) < LEAST_COLUMN:
            raise ValueError(f"a column is {min(widths):.0f} pt wide: wanted {LEAST_COLUMN:.0f} at least")
        return widths

    def _heads(self, columns: Sequence[Column], widths: Sequence[float]) -> None:
        self._font(SMALL_PT, "B")
        laid = [self._lines(each.head, width) for each, width in zip(columns, widths, strict=True)]
        self._stretch(laid, [each.align for each in columns], widths)
        self._rule(self._pdf.get_y(), "ink", 0.75)

    def _row(self, row: Row, columns: Sequence[Column], widths: Sequence[float]) -> None:
        group = len(row) < len(columns)
        aligns, widths_here = [each.align for each in columns], widths
        if group:
            aligns, widths_here = ["left"], [self.width]
            if self._need(HEADING_KEEPS):
                self._heads(columns, widths)
        self._font(SMALL_PT, "B" if group else "")
        laid = [self._laid(cell, width) for cell, width in zip(row, widths_here, strict=True)]
        for part in self._parts(laid, widths_here):
            if self._need(_height(part, widths_here)):
                self._heads(columns, widths)
                self._font(SMALL_PT, "B" if group else "")
            self._stretch(part, aligns, widths_here)
        self._rule(self._pdf.get_y(), "hair", 0.4)

    def _laid(self, cell: Cell, width: float) -> list[str] | Drawing:
        return self._lines(cell, width) if isinstance(cell, str) else cell

    def _parts(self, laid: _Laid, widths: Sequence[float]) -> Iterator[_Laid]:
        """A row as it is, or in pieces where no page holds it."""
        most = int((self._bottom - MARGIN - 4 * SMALL_PT * LEADING) // (SMALL_PT * LEADING))
        longest = max((len(cell) for cell in laid if isinstance(cell, list)), default=0)
        if longest <= most:
            yield laid
            return
        for start in range(0, longest, most):
            yield [cell[start : start + most] if isinstance(cell, list) else [] for cell in laid]

    def _stretch(self, laid: _Laid, aligns: Sequence[str], widths: Sequence[float]) -> None:
        """Draw the cells of a row side by side and go below them."""
        pdf, x = self._pdf, float(self._pdf.l_margin)
        top = pdf.get_y() + PAD
        for cell, align, width in zip(laid, aligns, widths, strict=True):
            if isinstance(cell, Drawing):
                self._draw(cell, x, top, (width - 2 * PAD) / cell.width)
            else:
                self._cell(cell, align, x, top, width)
            x += width
        pdf.set_y(pdf.get_y() + _height(laid, widths))

    def _cell(self, lines: Sequence[str], align: str, x: float, top: float, width: float) -> None:
        pdf = self._pdf
        for number, line in enumerate(lines):
            at = x + pdf.c_margin
            if align == "right":
                at = x + width - pdf.c_margin - pdf.get_string_width(line)
            pdf.text(at, top + SMALL_PT + number * SMALL_PT * LEADING, line)

    # --- Pictures ---

    def _draw(self, drawing: Drawing, x: float, y: float, scale: float) -> None:
        for mark in drawing.marks:
            if isinstance(mark, Box):
                self._box(mark, x, y, scale)
            elif isinstance(mark, Stroke):
                self._stroke(mark, x, y, scale)
            else:
                self._words(mark, x, y, scale)

    def _box(self, box: Box, x: float, y: float, scale: float) -> None:
        self._pdf.set_fill_color(*SHADES[box.shade])
        self._pdf.rect(x + box.x * scale, y + box.y * scale, box.width * scale, box.height * scale, style="F")

    def _stroke(self, stroke: Stroke, x: float, y: float, scale: float) -> None:
        self._pdf.set_draw_color(*SHADES[stroke.shade])
        self._pdf.set_line_width(stroke.thickness)
        self._pdf.polyline([(x + px * scale, y + py * scale) for px, py in stroke.points])

    def _words(self, words: Words, x: float, y: float, scale: float) -> None:
        before = float(self._pdf.font_size_pt), self._pdf.font_style
        self._pdf.set_font("text", "", words.size * scale)
        text = self._clean(words.text).replace("\n", " ")
        back = {"start": 0.0, "middle": 0.5, "end": 1.0}[words.anchor] * self._pdf.get_string_width(text)
        self._pdf.text(x + words.x * scale - back, y + words.y * scale, text)
        self._pdf.set_font("text", before[1], before[0])

    def _photo_row(self, photos: Sequence[tuple[bytes, str]]) -> None:
        self._font(SMALL_PT, shade="soft")
        captions = [self._lines(caption, PHOTO_WIDTH) for _, caption in photos]
        height = PHOTO_HEIGHT + PAD + max(len(lines) for lines in captions) * SMALL_PT * LEADING
        self._need(height + GAP)
        x, y = float(self._pdf.l_margin), self._pdf.get_y()
        for (picture, caption), lines in zip(photos, captions, strict=True):
            self._photo(picture, caption, x, y)
            self._cell(lines, "left", x - self._pdf.c_margin, y + PHOTO_HEIGHT + PAD, PHOTO_WIDTH)
            x += PHOTO_WIDTH + GAP
        self._pdf.set_y(y + height + GAP)

    def _photo(self, picture: bytes, caption: str, x: float, y: float) -> None:
        try:
            self._pdf.image(
                io.BytesIO(picture),
                x,
                y,
                PHOTO_WIDTH,
                PHOTO_HEIGHT,
                keep_aspect_ratio=True,
                alt_text=self._clean(caption) or None,
            )
        except (OSError, FPDFException) as trouble:
            raise ValueError(f"photo {caption!r} is no picture: wanted JPEG, PNG or WebP") from trouble


def _shapes(font: CoreFont | TTFFont) -> frozenset[int]:
    """The characters that a font has shapes for."""
    return frozenset(font.cmap) if isinstance(font, TTFFont) else frozenset()


def _height(laid: _Laid, widths: Sequence[float]) -> float:
    """Points that a row takes, padding among them."""
    return max(_cell_height(cell, width) for cell, width in zip(laid, widths, strict=True)) + 2 * PAD


def _cell_height(cell: list[str] | Drawing, width: float) -> float:
    if isinstance(cell, Drawing):
        return cell.height * (width - 2 * PAD) / cell.width
    return ceil(max(1, len(cell)) * SMALL_PT * LEADING)
