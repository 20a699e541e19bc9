"""Text that a spreadsheet shows and never runs.

Pure. A cell that begins with = + - @ or a tab or line break is read as a formula by spreadsheets; an
apostrophe in front makes it text (OWASP, CSV injection; common practice). Numbers stay numbers.
"""

from collections.abc import Iterable

RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""First letters that start a formula, their full-width forms too."""


def inert(value: object) -> object:
    """A cell as it may go into a spreadsheet; what was computed as a number is left alone."""
    if value is None:
        return ""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    text = str(value)
    return "'" + text if text.startswith(RUNS) or text.lstrip().startswith(RUNS) else text


def inert_row(cells: Iterable[object]) -> list[object]:
    """A row of cells."""
    return [inert(cell) for cell in cells]
