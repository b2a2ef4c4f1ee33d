"""The likeliest routes of a job's fluid, drawn on its machine."""

from __future__ import annotations

from leakdx.advice.solving import Solved
from leakdx.drawing.route_sheet import route_sheet
from leakdx.files.faults import Fault, FaultyInput
from leakdx.reasons.route import epoch_of, marks_of, routes_of

# More routes than this on one sheet are a tangle.
DRAWN = 3


def picture_of(solved: Solved, seal_point: str) -> str:
    """The text of an SVG file with the likeliest routes from a seal point to what was read wet.

    Raises FaultyInput where no route leads from it to anything that was read wet, KeyError for
    a seal point that the machine does not have.
    """
    routes = routes_of(solved, seal_point)[:DRAWN]
    if not routes:
        problem = f"no way leads from {seal_point} to anything that was read wet"
        remedy = "Leave out --picture, or name another seal point with --seal."
        raise FaultyInput([Fault("", None, "--picture", problem, remedy)])
    setting = solved.asked.network.setting
    epoch = epoch_of(solved, routes[0].zone)
    wind = setting.epochs[epoch].wind
    return route_sheet(setting.machine, wind, routes, marks_of(solved, epoch))
