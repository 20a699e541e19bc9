"""Driving times and miles between places, estimated from coordinates.

Distance is the great circle times a circuity factor, the mean ratio of road to straight-line
distance. Giacomin and Levinson, 'Road network circuity in metropolitan areas', Environment and
Planning B 42 (2015) 1040-1053, measured 51 metropolitan areas of the United States; 1.3 is
their mean rounded to one decimal, quoted from memory. The speed is common practice for city
streets with lights. Both ways are equally long here, which real streets are not.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

EARTH_RADIUS_MILES = 3958.76  # mean radius 6371.0 km, IUGG
CIRCUITY = 1.3
CITY_SPEED_MPH = 25.0


@dataclass(frozen=True, slots=True)
class Place:
    """A point on the earth."""

    latitude_deg: float
    longitude_deg: float

    def __post_init__(self) -> None:
        """Refuse a point that is not on the earth."""
        if not -90 <= self.latitude_deg <= 90:
            raise ValueError(f"latitude_deg {self.latitude_deg}, wanted -90 to 90")
        if not -180 <= self.longitude_deg <= 180:
            raise ValueError(f"longitude_deg {self.longitude_deg}, wanted -180 to 180")


@dataclass(frozen=True, eq=False)
class Travel:
    """Square tables of driving minutes and miles between places, in their order.

    Infinite minutes say that no road leads there. Of the pairs of different places `asked_pairs` are
    known from a road engine; `estimated_pairs` are those that one should know and does not.
    """

    minutes: NDArray[np.float64]
    miles: NDArray[np.float64]
    asked_pairs: int = 0
    estimated_pairs: int = 0

    def __post_init__(self) -> None:
        """Refuse tables that are not square, of one size and without negative or missing values."""
        size = len(self.minutes)
        for name, table in (("minutes", self.minutes), ("miles", self.miles)):
            if table.shape != (size, size):
                raise ValueError(f"{name} has shape {table.shape}, wanted ({size}, {size})")
            if np.isnan(table).any() or (table < 0).any():
                raise ValueError(f"{name} holds a negative or missing value, wanted 0 or more everywhere")


def great_circle_miles(places: Sequence[Place]) -> NDArray[np.float64]:
    """Great-circle distances between all places, miles (haversine formula)."""
    degrees = np.array([(place.latitude_deg, place.longitude_deg) for place in places], dtype=np.float64)
    latitude, longitude = np.radians(degrees.reshape(-1, 2)).T
    across = np.sin((latitude[:, None] - latitude[None, :]) / 2) ** 2
    along = np.sin((longitude[:, None] - longitude[None, :]) / 2) ** 2
    chord = across + np.cos(latitude)[:, None] * np.cos(latitude)[None, :] * along
    distances: NDArray[np.float64] = 2 * EARTH_RADIUS_MILES * np.arcsin(np.sqrt(np.clip(chord, 0, 1)))
    return distances


def estimate(places: Sequence[Place], *, speed_mph: float = CITY_SPEED_MPH) -> Travel:
    """Driving minutes and miles between all places at one speed in miles an hour."""
    if not 5 <= speed_mph <= 80:
        raise ValueError(f"speed_mph {speed_mph}, wanted 5 to 80")
    miles = great_circle_miles(places) * CIRCUITY
    return Travel(minutes=miles / speed_mph * 60, miles=miles)
