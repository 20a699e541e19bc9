"""What a month is usually like at a place and what it asks of a garden, in a few plain sentences."""

from datetime import date

from django.utils.translation import gettext

from landscape_care.almanac.climate import Climate

FREEZING_F, HOT_F = 32, 95
THIRSTY_IN, SPARING_IN = 7.0, 2.5


def season_words(climate: Climate, today: date) -> list[str]:
    """Sentences from the climate's means of this month; means, not a forecast."""
    month = today.month - 1
    days, nights = climate.tmax_f[month], climate.tmin_f[month]
    said = [
        gettext("Usual for this month: about %(day)d °F by day and %(night)d °F by night.")
        % {"day": round(days), "night": round(nights)},
        _water(climate.irrigation_eto_in[month], climate.rain_in[month]),
    ]
    return [*said, *_warnings(days, nights)]


def _water(need_in: float, rain_in: float) -> str:
    if need_in >= THIRSTY_IN:
        return gettext("The garden drinks a lot now, so watering is at its longest of the year.")
    if need_in <= SPARING_IN:
        return gettext("Plants drink little now, so watering is short and rare.")
    if rain_in >= need_in:
        return gettext("Rain usually covers what the garden drinks now.")
    return gettext("Watering follows the season: it changes as days grow warmer or cooler.")


def _warnings(days_f: float, nights_f: float) -> list[str]:
    said = []
    if nights_f <= FREEZING_F:
        said.append(
            gettext("Frost is usual at night; tender plants look tired and are cut back only in spring.")
        )
    if days_f >= HOT_F:
        said.append(
            gettext("Great heat is usual; crews come early, and leaves may wilt by day and recover at night.")
        )
    return said
