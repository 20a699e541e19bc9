"""Large months by territory: crews in groups, each group with its part of the town.

Crews of one depot are dealt into groups so that each group has all skills. Gardens go to groups as in
clustering around medoids (L. Kaufman and P. Rousseeuw, Finding Groups in Data, 1990, chapter 2, from
memory) with a limit to each group's work: who would lose most by the second-best group chooses first.
The parts are months of their own; what one of them has no room for is offered to all crews at last.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from landscape_care.dispatch.routing import CrewShift, RouteProblem, RouteVisit

CREWS_OF_A_GROUP = 10
VISITS_OF_A_PART = 1000  # larger months are split, where there are crews enough for it
ROUNDS = 8
ROOM_BESIDE = 1.03  # work of a group over its even share at most

Minutes = NDArray[np.float64]


def split(problem: RouteProblem) -> tuple[RouteProblem, ...]:
    """Split a large month into parts that share neither a crew nor a visit; a small one stays whole."""
    groups = _groups(problem)
    if len(problem.visits) <= VISITS_OF_A_PART or len(groups) < 2:
        return (problem,)
    group_of = _gardens(problem, groups)
    rows: list[list[RouteVisit]] = [[] for _ in groups]
    for visit in problem.visits:
        rows[_able_group(problem, groups, visit, group_of[problem.place_by_uid[visit.uid]])].append(visit)
    return tuple(_part(problem, crews, row) for crews, row in zip(groups, rows, strict=True) if row)


def _part(problem: RouteProblem, crews: Sequence[CrewShift], visits: Sequence[RouteVisit]) -> RouteProblem:
    uids = {crew.uid for crew in crews}
    return replace(
        problem,
        crews=tuple(crews),
        visits=tuple(visits),
        places=tuple(problem.place_by_uid[visit.uid] for visit in visits),
        told={key: order for key, order in problem.told.items() if key[0] in uids},
    )


def _groups(problem: RouteProblem) -> list[list[CrewShift]]:
    """Crews of one depot dealt out by skill, so that groups are alike."""
    groups: list[list[CrewShift]] = []
    for depot in range(problem.depots):
        crews = [crew for crew in problem.crews if crew.depot == depot]
        crews.sort(key=lambda crew: (sorted(crew.skills), crew.people, crew.uid))
        count = ceil(len(crews) / CREWS_OF_A_GROUP)
        groups += [crews[number::count] for number in range(count)]
    return groups


def _able_group(
    problem: RouteProblem, groups: Sequence[Sequence[CrewShift]], visit: RouteVisit, usual: int
) -> int:
    """The group of a garden, unless only another one can do the visit or holds it."""
    if visit.held_to is not None:
        return next(
            (n for n, crews in enumerate(groups) if visit.held_to[0] in {c.uid for c in crews}), usual
        )
    able = [any(_could(problem, crew, visit) for crew in crews) for crews in groups]
    return usual if able[usual] or not any(able) else able.index(True)


def _could(problem: RouteProblem, crew: CrewShift, visit: RouteVisit) -> bool:
    return problem.is_able(crew, visit) and not crew.days.isdisjoint(visit.days)


# --- Gardens to groups --------------------------------------------------------------------------------


def _gardens(problem: RouteProblem, groups: Sequence[Sequence[CrewShift]]) -> Mapping[int, int]:
    """The group of each place: near its medoid, and none with much more than its share."""
    work = _work(problem)
    places = np.array(sorted(work))
    weights = np.array([work[place] for place in places])
    people = np.array([sum(crew.people * len(crew.days) for crew in crews) for crews in groups], dtype=float)
    room = people / people.sum() * weights.sum() * ROOM_BESIDE
    medoids = _first_medoids(problem, groups, places)
    chosen = np.zeros(len(places), dtype=int)
    for _ in range(ROUNDS):
        drives = _drives(problem, places, medoids)
        chosen = _assign(drives, weights, room)
        again = [
            _medoid(problem, places[chosen == n], weights[chosen == n], m) for n, m in enumerate(medoids)
        ]
        if again == medoids:
            break
        medoids = again
    return dict(zip(places.tolist(), chosen.tolist(), strict=True))


def _work(problem: RouteProblem) -> dict[int, int]:
    work: dict[int, int] = {}
    for visit in problem.visits:
        place = problem.place_by_uid[visit.uid]
        work[place] = work.get(place, 0) + visit.person_minutes
    return work


def _first_medoids(
    problem: RouteProblem, groups: Sequence[Sequence[CrewShift]], places: NDArray[np.int64]
) -> list[int]:
    """The depot for its first group, then always the place farthest from all medoids so far."""
    medoids: list[int] = []
    for crews in groups:
        depot = crews[0].depot
        if depot not in medoids:
            medoids.append(depot)
            continue
        nearest = _drives(problem, places, medoids).min(axis=1)
        medoids.append(int(places[int(nearest.argmax())]))
    return medoids


def _drives(problem: RouteProblem, places: NDArray[np.int64], medoids: Sequence[int]) -> Minutes:
    drives: Minutes = np.minimum(problem.travel.minutes[np.ix_(places, np.array(medoids))], 1e6)
    return drives


def _assign(drives: Minutes, weights: NDArray[np.int64], room: Minutes) -> NDArray[np.int64]:
    """Nearest group with room; who would lose most by the second best chooses first."""
    ranked = np.sort(drives, axis=1)
    left = room.copy()
    chosen = np.zeros(len(drives), dtype=int)
    for place in np.argsort(ranked[:, 0] - ranked[:, 1], kind="stable"):
        order = np.argsort(drives[place], kind="stable")
        group = next((n for n in order if left[n] >= weights[place]), int(left.argmax()))
        chosen[place] = group
        left[group] -= weights[place]
    return chosen


def _medoid(
    problem: RouteProblem, members: NDArray[np.int64], weights: NDArray[np.int64], before: int
) -> int:
    """The place of a group from which its work is nearest."""
    if not len(members):
        return before
    return int(
        members[int((_drives(problem, members, members.tolist()) * weights[:, None]).sum(axis=0).argmin())]
    )
