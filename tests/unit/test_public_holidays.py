"""Public holidays against the law that sets them.

The federal days are those of 5 U.S. Code 6103(a); the day after Thanksgiving as New Mexico's
Presidents' Day is state practice (State Personnel Board holiday list, from memory).
"""

from datetime import date

import pytest

from landscape_care.almanac.public_holidays import holidays_of, kept_on, names_in

# 5 U.S.C. 6103(a), worked out by hand for 2026: third Monday of January and so on.
FEDERAL_2026 = {
    date(2026, 1, 1),
    date(2026, 1, 19),
    date(2026, 2, 16),
    date(2026, 5, 25),
    date(2026, 6, 19),
    date(2026, 7, 3),  # the Fourth is a Saturday; 6103(b)
    date(2026, 9, 7),
    date(2026, 10, 12),
    date(2026, 11, 11),
    date(2026, 11, 26),
    date(2026, 12, 25),
}


def test_the_days_of_federal_law_are_kept() -> None:
    assert set(holidays_of("US", 2026)) - {date(2026, 7, 4)} == FEDERAL_2026


def test_a_state_keeps_its_own() -> None:
    friday = date(2026, 11, 27)
    assert friday in holidays_of("US-NM", 2026)
    assert friday not in holidays_of("US-AZ", 2026)


def test_holidays_that_are_worked_are_not_kept() -> None:
    days = [date(2026, 11, 11), date(2026, 11, 26), date(2026, 11, 24)]
    assert kept_on("US-AZ", days, ["veterans day"]) == {date(2026, 11, 26): "Thanksgiving Day"}
    assert kept_on("US-AZ", [date(2026, 7, 3)], ["Independence Day"]) == {}
    assert kept_on("", days) == {}


def test_names_stand_once() -> None:
    names = names_in("US-NM", 2026)
    assert "Independence Day" in names
    assert len(names) == len(set(names))


@pytest.mark.parametrize("region", ["XX", "US-ZZ"])
def test_a_region_nobody_knows_is_refused(region: str) -> None:
    with pytest.raises(ValueError, match="ISO 3166-2"):
        holidays_of(region, 2026)
