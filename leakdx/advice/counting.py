"""Counting dry runs, and what one dry run does to the odds of a leak.

Sources: the success-run theorem and the rule of three, as in any textbook of reliability.
"""

from __future__ import annotations

from math import ceil, log


def independent_runs(sure: float, shows: float) -> int:
    """Dry runs in a row until a leak that shows in a run with chance ``shows`` is ruled out.

    sure, shows: chances above 0 and below 1.  The success-run theorem, n = ln(1 - C) / ln R
    rounded up, with R = 1 - shows: runs that are alike and know nothing of one another, and
    nothing known before.  Raises ValueError for a chance that is none.
    """
    if not (0 < sure < 1 and 0 < shows < 1):
        raise ValueError(f"sure {sure} and shows {shows} are chances above 0 and below 1")
    # A count that is whole but for rounding is not rounded up to the next.
    return max(ceil(log(1 - sure) / log(1 - shows) - 1e-9), 1)


def most_shown(runs: int, sure: float) -> float:
    """The largest chance to show in a run that so many dry runs in a row do not rule out.

    About 3 / runs for 95 % (the rule of three).  Raises ValueError for no run or no chance.
    """
    if runs < 1 or not 0 < sure < 1:
        raise ValueError(
            f"{runs} runs and sure {sure}: at least one run, a chance above 0 and below 1"
        )
    return float(1 - (1 - sure) ** (1 / runs))


def missed(chance: tuple[float, float]) -> float:
    """What a dry trial multiplies the odds of a leak by, from the chance of none before and after.

    It is P(all dry | something leaks) / P(all dry | nothing leaks).
    """
    before, after = (min(max(p, 1e-15), 1 - 1e-15) for p in chance)
    return min((1 - after) / after * before / (1 - before), 1.0)


def between(low: tuple[float, float], high: tuple[float, float], sure: float) -> float:
    """Minutes at which a chance is reached, from two points (minutes, chance) on its two sides.

    On a straight line in log odds, minutes.
    """
    odds = [_log_odds(p) for p in (low[1], sure, high[1])]
    return low[0] + (high[0] - low[0]) * (odds[1] - odds[0]) / (odds[2] - odds[0])


def _log_odds(chance: float) -> float:
    kept = min(max(chance, 1e-15), 1 - 1e-15)
    return log(kept / (1 - kept))
