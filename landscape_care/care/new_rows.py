"""Many new care tasks in one prepared statement; a plan of a new property is some hundred rows."""

from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

from django.db import connection, connections, models

from landscape_care.care.models import CareTask

# Values that both drivers take as they are; all others go through their field.
_AS_THEY_ARE = (models.CharField, models.IntegerField, models.BooleanField, models.ForeignKey)
Ready = Callable[[Any], Any]


def insert(rows: Iterable[CareTask]) -> None:
    """Store new care tasks; their primary keys are not read back."""
    columns = [field for field in CareTask._meta.concrete_fields if not field.primary_key]
    name = connection.ops.quote_name
    names = ", ".join(name(str(field.column)) for field in columns)
    places = ", ".join(["%s"] * len(columns))
    sql = f"INSERT INTO {name(CareTask._meta.db_table)} ({names}) VALUES ({places})"  # noqa: S608 - no value in it
    ready = [(field.attname, _ready(field)) for field in columns]
    values = [[make(getattr(row, attribute)) for attribute, make in ready] for row in rows]
    if values:
        with connection.cursor() as cursor:
            cursor.executemany(sql, values)


def _ready(field: Any) -> Ready:
    """What makes a value of a field ready for the driver."""
    if isinstance(field, _AS_THEY_ARE):
        return _as_it_is
    # The connection itself: its stand-in for the thread looks it up anew for every value.
    return partial(_prepared, field.get_db_prep_save, connections[connection.alias])


def _as_it_is(value: Any) -> Any:
    return value.value if isinstance(value, models.Choices) else value


def _prepared(prepare: Callable[..., Any], database: Any, value: Any) -> Any:
    return None if value is None else prepare(value, database)
