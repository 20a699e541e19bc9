"""Lines of tubing, branches and what the pressure at their end does."""

import pytest

from landscape_care.trades import hydraulics
from landscape_care.trades.kinds import TUBING_SIZES


def test_two_hundred_feet_and_two_hundred_gallons_of_half_inch_lose_a_third_of_nine_psi() -> None:
    """Trade limit; 9.44 psi by Hazen-Williams, times the Christiansen factor of 100 outlets, 0.356."""
    line = hydraulics.tubing_line("half_inch", 100, emitter_gph=2, length_ft=200, inlet_psi=25)
    assert line.loss_psi == pytest.approx(9.44 * 0.356, abs=0.05)
    assert line.end_psi == pytest.approx(25 - line.loss_psi)
    assert line.is_within_practice
    assert line.is_within_velocity


def test_quarter_inch_of_thirty_gallons_is_within_practice_and_over_the_speed() -> None:
    line = hydraulics.tubing_line("quarter_inch", 30, emitter_gph=1, length_ft=30, inlet_psi=25)
    assert line.is_within_practice
    assert not line.is_within_velocity
    assert line.most_gph_by_velocity == pytest.approx(21, abs=0.3)


def test_branches_add_their_own_friction() -> None:
    along = hydraulics.tapped_line_psi(2, 0.6, length_ft=120, outlets=20)
    both = hydraulics.branched_line_psi(60, 2, length_ft=120, branch_emitters=3, branch_ft=10)
    aside = hydraulics.tapped_line_psi(0.1, 0.17, length_ft=10, outlets=3)
    assert both == pytest.approx(along + aside)


def test_a_compensating_emitter_gives_the_same_at_any_pressure() -> None:
    assert hydraulics.emission_spread(25, 16) == pytest.approx(0.2)
    assert hydraulics.emission_spread(25, 16, exponent=0) == 0


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: hydraulics.tubing_line("2", 1, emitter_gph=1, length_ft=1, inlet_psi=20), "tubing"),
        (
            lambda: hydraulics.tubing_line("half_inch", 0, emitter_gph=1, length_ft=1, inlet_psi=20),
            "emitters",
        ),
        (lambda: hydraulics.emission_spread(10, 11), "least_psi"),
        (
            lambda: hydraulics.branched_line_psi(2, 1, length_ft=1, branch_emitters=3, branch_ft=1),
            "branch_emitters",
        ),
    ],
)
def test_nonsense_is_refused_by_its_field(call, field) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=field):
        call()


def test_the_record_knows_the_tubing_of_the_table() -> None:
    assert tuple(hydraulics.TUBING) == TUBING_SIZES
