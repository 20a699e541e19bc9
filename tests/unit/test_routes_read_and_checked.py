"""The benchmark of published routes: its formats are read as published, and its check catches every fault."""

import json
from math import inf
from pathlib import Path

import pytest

from tests.benchmarks import routes
from tests.benchmarks.instances import Instance, Plan, best_known, cost, faults, read

# Made for this test. The first customer is wanted on both days, the second once, the third once
# within a window; the last line of the depot is its own window.
PERIODIC = """5 2 3 2
100 10
 0  0.0  0.0  0 0 0 0 0 90
 1  3.0  4.0  5 6 2 1 3 0 90
 2 -6.0  8.0 10 5 1 2 1 2 0 90
 3  0.0 12.0  2 4 1 2 1 2 20 30
"""
WITHOUT_LIMITS = """1   1   2   3
0   0
0   0
50  7
0   0 0 0 0 0 0
1   3 4 0 1 1 3 1 2 4
2  12 5 0 7 3 1 7
"""
ONE_DAY = """MADE

VEHICLE
NUMBER     CAPACITY
  2         10

CUSTOMER
CUST NO.   XCOORD.   YCOORD.   DEMAND   READY TIME   DUE DATE   SERVICE TIME

    0      0          0          0          0        100          0
    1      1          1          6          0         50         10
    2      2          2          6         30         40         10
"""
TRUE_PLAN: Plan = [(0, [1, 3]), (1, [1]), (1, [2])]


def made(folder: Path, text: str) -> Instance:
    file = folder / "made.txt"
    file.write_text(text)
    return read(file, "made")


def test_a_periodic_instance_with_one_line_of_limits_and_windows_is_read(tmp_path: Path) -> None:
    instance = made(tmp_path, PERIODIC)
    assert (instance.vehicles, instance.days, len(instance.sites)) == (2, 2, 4)
    assert list(instance.longest) == [100, 100]
    assert list(instance.capacity) == [10, 10]
    assert list(instance.sites[1].patterns) == [{0, 1}]
    assert list(instance.sites[3].patterns) == [{1}, {0}]
    assert (instance.sites[3].opens, instance.sites[3].closes) == (20, 30)
    assert instance.sites[0].closes == 90


def test_zero_means_no_limit_and_the_leftmost_bit_is_the_first_day(tmp_path: Path) -> None:
    instance = made(tmp_path, WITHOUT_LIMITS)
    assert list(instance.longest) == [inf, inf, 50]
    assert list(instance.capacity) == [inf, inf, 7]
    assert list(instance.sites[1].patterns) == [{2}, {1}, {0}]
    assert instance.sites[2].closes == inf
    assert instance.distance(0, 2) == 13


def test_an_instance_of_one_day_is_read_with_distances_cut_to_one_decimal(tmp_path: Path) -> None:
    instance = made(tmp_path, ONE_DAY)
    assert (instance.vehicles, instance.days, len(instance.sites)) == (2, 1, 3)
    assert instance.distance(0, 1) == 1.4
    assert instance.distance(0, 2) == 2.8
    assert (instance.sites[2].opens, instance.sites[2].closes, instance.sites[2].service) == (30, 40, 10)


def test_a_file_that_is_cut_off_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="a depot and 3 customers"):
        made(tmp_path, "\n".join(PERIODIC.splitlines()[:-1]))


def test_a_true_plan_has_no_fault_and_the_distance_of_its_coordinates(tmp_path: Path) -> None:
    instance = made(tmp_path, PERIODIC)
    assert list(faults(instance, TRUE_PLAN)) == []
    assert cost(instance, TRUE_PLAN) == pytest.approx(5 + 73**0.5 + 12 + 10 + 20)


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ([(0, [1, 3]), (1, [1])], "customer 2 is served on days [], none of its patterns"),
        ([(0, [1, 3]), (1, [2])], "customer 1 is served on days [0]"),
        ([(0, [1, 3]), (1, [1]), (1, [2]), (0, [2])], "customer 2 is served on days [0, 1]"),
        ([(0, [1, 3]), (1, [1]), (1, [1]), (1, [2])], "customer 1 is served on days [0, 1, 1]"),
        ([(0, [1]), (0, [3]), (0, [2]), (1, [1])], "day 0 uses 3 vehicles of 2"),
        ([(0, [1, 3]), (1, [1, 2])], "load 11 of 10"),
        ([(0, [1]), (1, [1]), (0, [2, 3])], "customer 3 is reached too late"),
    ],
)
def test_every_seeded_fault_is_named(tmp_path: Path, plan: Plan, words: str) -> None:
    instance = made(tmp_path, PERIODIC.replace("20 30", "20 25"))
    assert [fault for fault in faults(instance, plan) if words in fault], list(faults(instance, plan))


def test_a_route_that_is_too_long_or_back_too_late_is_named(tmp_path: Path) -> None:
    short = made(tmp_path, PERIODIC.replace("100 10", "27 10"))
    assert any("takes 30 of 27" in fault for fault in faults(short, TRUE_PLAN))
    # Leaving later saves the wait before the window of the third customer: 5 + 5 + 73 ** 0.5 + 2 + 12.
    assert not any(
        "[1, 3]" in f for f in faults(made(tmp_path, PERIODIC.replace("100 10", "33 10")), TRUE_PLAN)
    )
    assert any("[1, 3]" in f for f in faults(made(tmp_path, PERIODIC.replace("100 10", "32 10")), TRUE_PLAN))
    early = made(tmp_path, PERIODIC.replace("0 0 0 0 0 90", "0 0 0 0 0 29"))
    assert any("returns at 30" in fault for fault in faults(early, TRUE_PLAN))


def test_best_values_lie_in_the_folder_or_above(tmp_path: Path) -> None:
    (tmp_path / "part").mkdir()
    (tmp_path / "best_known.csv").write_text("instance,best_known\npart/made,57.5\nother/made,9\n")
    assert best_known(tmp_path)["part/made"] == 57.5
    assert best_known(tmp_path / "part")["made"] == 57.5
    assert best_known(tmp_path / "part" / "nowhere") == {}


def test_the_command_solves_checks_and_compares(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "made.txt").write_text(PERIODIC)
    (tmp_path / "once.txt").write_text(ONE_DAY)
    (tmp_path / "best_known.csv").write_text("instance,best_known\nmade,50\n")
    words = ["--instances", str(tmp_path), "--seconds", "0.3", "--solomon-seconds", "0.3", "--json"]
    assert routes.main([*words, "--iterations", "500", "--peers", "ortools,pyvrp"]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    periodic, once = lines[1:3]
    # The first customer alone on both days, the others together: the third before the second.
    assert periodic["cost"] == pytest.approx(10 + 10 + 12 + 52**0.5 + 10, abs=0.005)
    assert periodic["gap_percent"] == pytest.approx(100 * (periodic["cost"] / 50 - 1), abs=0.01)
    for peer in ("", "ortools_", "pyvrp_"):
        assert periodic[f"{peer}faults"] == once[f"{peer}faults"] == []
        assert once[f"{peer}cost"] == pytest.approx(8.4)
        assert periodic[f"{peer}cost"] == periodic["cost"]
    assert lines[3]["better_than_ortools"] == 0
