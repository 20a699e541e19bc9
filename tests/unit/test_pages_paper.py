"""The paper as another library reads it back (pypdf): words, pages, title, language, pictures."""

import io
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from landscape_care.pages.paper import Box, Column, Drawing, Paper, Stroke, Title, Words

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
TITLE = Title("Casa Verde Care", "Un año de cuidado", "Patio Ñandú", "25 nov 2026")
COLUMNS = (Column("Tarea", 3), Column("Horas", 1, "right"))


def paper() -> Paper:
    return Paper(TITLE, language="es", made_at=NOON)


def read(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


def words_of(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in read(content).pages)


def picture(red: int = 20) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (80, 60), (red, 90, 40)).save(file, "JPEG")
    return file.getvalue()


def test_the_title_block_stands_in_the_words_and_in_the_document_itself() -> None:
    content = paper().to_bytes()
    found = read(content)
    assert "Casa Verde Care" in words_of(content)
    assert "Patio Ñandú · 25 nov 2026" in words_of(content)
    assert found.metadata is not None
    assert found.metadata.title == "Un año de cuidado Patio Ñandú"
    assert found.metadata.author == "Casa Verde Care"
    assert found.metadata.creation_date == NOON
    assert str(found.root_object["/Lang"]) == "es"


def test_accents_fractions_and_boxes_to_tick_can_be_read_back() -> None:
    sheet = paper()
    sheet.heading("¿Qué válvula?")
    sheet.paragraph("☐ ½ in, 3 yd³, 32 °F, 1.5 × evaporación — über Ωμέγα Привет")
    said = words_of(sheet.to_bytes())
    assert "¿Qué válvula?" in said
    assert "☐ ½ in, 3 yd³, 32 °F, 1.5 × evaporación — über Ωμέγα Привет" in said


def test_the_same_contents_and_moment_give_the_same_bytes() -> None:
    def make() -> bytes:
        sheet = paper()
        sheet.table(COLUMNS, [["Poda", "1.5"]])
        sheet.photos([(picture(), "Cantero")])
        return sheet.to_bytes()

    assert make() == make()


def test_the_heads_of_a_table_stand_again_on_each_page_and_each_page_has_its_number() -> None:
    sheet = paper()
    sheet.table(COLUMNS, [[f"Fila {number}.", str(number)] for number in range(200)])
    content = sheet.to_bytes()
    pages = [page.extract_text() for page in read(content).pages]
    assert len(pages) > 2
    assert all("Tarea" in page and "Horas" in page for page in pages)
    assert all(f"{number} / {len(pages)}" in page for number, page in enumerate(pages, 1))
    said = words_of(content)
    assert [number for number in range(200) if f"Fila {number}." not in said] == []


def test_a_cell_longer_than_a_page_goes_on_without_losing_a_word() -> None:
    sheet = paper()
    sheet.table(COLUMNS, [[" ".join(f"w{number}." for number in range(4000)), "1"]])
    said = words_of(sheet.to_bytes()).split()
    assert [number for number in range(4000) if f"w{number}." not in set(said)] == []


def test_no_mark_and_no_word_leaves_the_page() -> None:
    sheet = paper()
    for number in range(40):
        sheet.heading(f"Encabezado {number}")
        sheet.paragraph("palabra " * 60)
        sheet.drawing(Drawing(100, 30, (Box(0, 0, 100, 30, "tint"), Words(50, 15, "medio", 8, "middle"))))
    places: list[tuple[float, float]] = []
    for page in read(sheet.to_bytes()).pages:
        page.extract_text(
            visitor_text=lambda text, _cm, tm, _font, _size: (
                places.append((tm[4], tm[5])) if text.strip() else None
            )
        )
    assert len(places) > 100
    assert all(40 <= x <= 572 and 30 <= y <= 752 for x, y in places)


def test_a_name_of_a_group_stands_across_the_table() -> None:
    sheet = paper()
    sheet.table(COLUMNS, [["Un grupo con un nombre más largo que una columna sola"], ["Poda", "1"]])
    assert "Un grupo con un nombre más largo que una columna sola" in words_of(sheet.to_bytes())


def test_pictures_from_numbers_are_drawn_as_lines_and_areas_with_their_words() -> None:
    marks = (Box(0, 0, 40, 10), Stroke(((0, 0), (480, 0), (480, 12))), Words(10, 8, "marzo"))
    sheet = paper()
    sheet.table(COLUMNS, [["Riego", Drawing(480, 12, marks)]])
    content = sheet.to_bytes()
    assert "marzo" in words_of(content)
    contents = read(content).pages[0].get_contents()
    assert contents is not None
    drawn = contents.get_data()
    assert b" re" in drawn
    assert b" l" in drawn


def test_photos_are_in_the_document_with_their_captions() -> None:
    sheet = paper()
    sheet.photos([(picture(number * 40), f"Foto {number}") for number in range(5)])
    content = sheet.to_bytes()
    assert sum(len(page.images) for page in read(content).pages) == 5
    assert "Foto 4" in words_of(content)


def test_what_is_no_picture_is_refused_by_its_caption() -> None:
    with pytest.raises(ValueError, match="photo 'Fuente' is no picture"):
        paper().photos([(b"no picture at all", "Fuente")])


def test_what_cannot_be_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="wanted a moment with its time zone"):
        Paper(TITLE, language="en", made_at=datetime(2026, 1, 1))
    with pytest.raises(ValueError, match="row has 3 cells: wanted 1 or 2"):
        paper().table(COLUMNS, [["a", "b", "c"]])
    with pytest.raises(ValueError, match="wanted 24 at least"):
        paper().table([Column("a", 100), Column("b", 0.1)], [])
    with pytest.raises(ValueError, match="shade is 'pink'"):
        Drawing(10, 10, (Box(0, 0, 1, 1, "pink"),))
    with pytest.raises(ValueError, match="drawing is 0 by 10"):
        Drawing(0, 10, ())


def test_the_foot_keeps_its_size_after_a_drawing_with_large_words() -> None:
    sheet = paper()
    sheet.drawing(Drawing(100, 20, (Words(0, 15, "grande", 18),)))
    sheet.page_break()
    sheet.paragraph("x")
    sizes: list[float] = []
    for page in read(sheet.to_bytes()).pages:
        page.extract_text(
            visitor_text=lambda text, _cm, _tm, _font, size: sizes.append(size) if " / 2" in text else None
        )
    assert sizes == [8.0, 8.0]


@settings(max_examples=12, deadline=None)
@given(text=st.text(max_size=200))
def test_any_text_makes_a_document_that_can_be_read(text: str) -> None:
    sheet = Paper(Title(text, text, text, text), language="en", made_at=NOON)
    sheet.heading(text)
    sheet.paragraph(text)
    sheet.table(COLUMNS, [[text], [text, text]])
    sheet.drawing(Drawing(100, 10, (Words(0, 8, text),)))
    assert len(read(sheet.to_bytes()).pages) >= 1
