"""The spreadsheets of an invented company, filled in the way an office would fill them."""

from pathlib import Path

_FOLDER = Path(__file__).resolve().parent

WORKBOOKS = (_FOLDER / "gardens_rio_grande.xlsx", _FOLDER / "gardens_sonora.xlsx")
FILES = (*WORKBOOKS, *sorted((_FOLDER / "museum_terrace").glob("*.csv")))
