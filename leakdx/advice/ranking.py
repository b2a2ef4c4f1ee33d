"""The ranking: which seal points leak, which together, and whether it is any of them."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from math import exp, log
from typing import TYPE_CHECKING, Any

import numpy as np

from leakdx.advice.solving import Solved, solve
from leakdx.advice.why import why_of
from leakdx.advice.words import next_step, notes_of, percent, ranking_text, together
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.sets import most_probable_sets
from leakdx.case.read import LoadedJob
from leakdx.files.schema import closed
from leakdx.network.build import unlisted_elsewhere
from leakdx.network.odds import decibans
from leakdx.network.setting import OTHER_STATES, seal_name
from leakdx.network.tables import Array
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors

if TYPE_CHECKING:
    import pandas as pd

FORMAT = "leakdx-rank/1"
SETS = 5
# Table entries worth working through for the sets; about two seconds.
SET_WORK, LEAST_LOOKS, MOST_LOOKS = 300_000_000, 100, 4_000


@dataclass(frozen=True)
class Ranked:
    """One seal point: the chance that it leaks now, and how badly.

    seeping + drops + dripping = leaks, each a probability.  decibans: 10 log10 of the
    odds that it leaks.
    """

    seal_point: str
    name: str
    fluid: str
    zones: tuple[str, ...]
    leaks: float
    decibans: float
    seeping: float
    drops: float
    dripping: float


@dataclass(frozen=True)
class LeakSet:
    """Exactly these seal points leak, all others are tight."""

    seal_points: tuple[str, ...]
    probability: float


@dataclass(frozen=True, eq=False)
class Ranking:
    """The answer to a job; all chances are posterior probabilities.

    rows: most likely first.  none_leaks: no listed seal point leaks now.  not_listed: an
    origin that the machine file does not list lets fluid out.  nothing_leaks: neither;
    what is seen is spilled or old.  log_evidence: natural log of the probability of the
    readings.  sets_proven: no set left out is more probable than the last one listed.
    why: what most likely lies behind, where the readings say so.
    """

    job: str
    machine: str
    title: str
    rows: tuple[Ranked, ...]
    sets: tuple[LeakSet, ...]
    sets_proven: bool
    none_leaks: float
    not_listed: float
    nothing_leaks: float
    log_evidence: float
    readings: int
    why: tuple[str, ...]
    notes: tuple[str, ...]
    next_step: str

    @property
    def table(self) -> pd.DataFrame:
        """The rows as a DataFrame, most likely first; chances as fractions of one."""
        import pandas as pd

        columns = list(Ranked.__dataclass_fields__)
        values = [[getattr(r, c) for c in columns] for r in self.rows]
        return pd.DataFrame(values, columns=columns)

    def to_text(self, width: int = 100) -> str:
        """The answer for a terminal that is ``width`` characters wide."""
        return ranking_text(self, width)

    def to_json_dict(self) -> dict[str, Any]:
        """Plain data in the shape that ``leakdx schema rank`` describes."""
        return {
            "format": FORMAT,
            "job": self.job,
            "machine": self.machine,
            "ranking": [
                {c: getattr(r, c) for c in Ranked.__dataclass_fields__} | {"zones": list(r.zones)}
                for r in self.rows
            ],
            "sets": [
                {"seal_points": list(s.seal_points), "probability": s.probability}
                for s in self.sets
            ],
            "sets_proven": self.sets_proven,
            "none_leaks": self.none_leaks,
            "not_listed": self.not_listed,
            "nothing_leaks": self.nothing_leaks,
            "evidence_probability": exp(self.log_evidence),
            "log_evidence": self.log_evidence,
            "readings": self.readings,
            "why": list(self.why),
            "notes": list(self.notes),
            "next_step": self.next_step,
        }

    def _repr_html_(self) -> str:
        """The answer for a notebook: text in every cell, so colour is not needed."""
        lines = "".join(
            f"<tr><td>{n}</td><td>{escape(r.name)}</td>"
            f"<td style='text-align:right;white-space:nowrap'>{percent(r.leaks)}</td>"
            f"<td><meter min='0' max='1' value='{r.leaks:.4f}' "
            f"aria-label='chance that {escape(r.name, quote=True)} leaks'></meter></td>"
            f"<td>{escape(', '.join(r.zones).replace('_', ' '))}</td></tr>"
            for n, r in enumerate(self.rows[:12], start=1)
        )
        names = {r.seal_point: r.name for r in self.rows}
        sets = "".join(
            f"<li>{percent(s.probability)}: {escape(together(s, names))}</li>" for s in self.sets
        )
        notes = "".join(f"<li>{escape(note)}</li>" for note in self.notes)
        why = "".join(f"<li>{escape(reason)}</li>" for reason in self.why)
        return (
            f"<p><strong>{escape(self.title)}</strong></p><table>"
            "<thead><tr><th></th><th>seal point</th><th>leaks</th><th></th><th>shows at</th></tr>"
            f"</thead><tbody>{lines}</tbody></table>"
            f"<p>No listed seal leaks now: {percent(self.none_leaks)}. "
            f"Origin not on the list: {percent(self.not_listed)}.</p>"
            f"<p>Most probable together, exactly these and no others:</p><ul>{sets}</ul>"
            + (f"<p>Most likely behind it:</p><ul>{why}</ul>" if why else "")
            + (f"<p>Taken for granted:</p><ul>{notes}</ul>" if notes else "")
            + f"<p><strong>{escape(self.next_step)}</strong></p>"
        )


def rank_job(loaded: LoadedJob, priors: Priors | None = None) -> Ranking:
    """Rank the seal points of a job.

    Raises ContradictoryReadings where the readings cannot hold together, TooLarge for a
    machine too large to work out exactly, UnknownNumber if a prior number is missing.
    """
    numbers = priors or shipped_priors()
    return ranking_of(loaded, solve(loaded, numbers), numbers)


def ranked_seals(loaded: LoadedJob, solved: Solved) -> tuple[Ranked, ...]:
    """The seal points of a solved job, the likeliest to leak first."""
    rows = []
    for seal in loaded.machine.seal_points:
        _tight, *classes = (float(p) for p in solved.beliefs[_latest(solved, seal.id)])
        label = seal.name or seal.id.replace("_", " ")
        leaks = sum(classes)
        rows.append(
            Ranked(seal.id, label, seal.fluid, seal.zones, leaks, decibans(leaks), *classes)
        )
    return tuple(sorted(rows, key=lambda r: (-r.leaks, r.seal_point)))


def ranking_of(loaded: LoadedJob, solved: Solved, priors: Priors) -> Ranking:
    """The ranking of a job that has been solved."""
    machine, job = loaded.machine, loaded.job
    ranked = ranked_seals(loaded, solved)
    sets, proven = leak_sets(solved)
    none, not_listed, nothing = not_these(solved, priors)
    return Ranking(
        job=job.id,
        machine=machine.id,
        title=job.name or job.id,
        rows=ranked,
        sets=sets,
        sets_proven=proven,
        none_leaks=none,
        not_listed=not_listed,
        nothing_leaks=nothing,
        log_evidence=float(np.asarray(solved.beliefs.log_evidence)),
        readings=len(solved.asked.readings),
        why=why_of(machine, solved, {r.seal_point: r.leaks for r in ranked}),
        notes=notes_of(loaded, solved),
        next_step=next_step(loaded, solved, [r.seal_point for r in ranked], nothing),
    )


def _latest(solved: Solved, seal: str) -> str:
    return seal_name(seal, solved.asked.story.generations.get(seal, 1) - 1)


def now_names(solved: Solved) -> dict[str, str]:
    """Each seal point -> the variable of what it is now, after all renewals, in file order."""
    machine = solved.asked.network.setting.machine
    return {s.id: _latest(solved, s.id) for s in machine.seal_points}


def leak_sets(solved: Solved) -> tuple[tuple[LeakSet, ...], bool]:
    """The most probable sets of seal points that leak together, and whether that is proven."""
    ids = {name: seal for seal, name in now_names(solved).items()}
    entries = sum(solved.tree.clique_entries)
    limit = int(np.clip(SET_WORK // entries, LEAST_LOOKS, MOST_LOOKS))
    faulty = dict.fromkeys(ids, (1, 2, 3))
    found = most_probable_sets(solved.tree, solved.evidence, faulty, SETS, limit)
    sets = (LeakSet(tuple(ids[n] for n in s.names), s.probability) for s in found.sets)
    return tuple(sets), found.proven


def not_these(solved: Solved, priors: Priors) -> tuple[float, float, float]:
    """Chance that no listed seal leaks, that an unlisted origin does, and that nothing does."""
    network = solved.asked.network
    others = network.others.values()
    listed = np.array([1.0, *[1.0 - (s == "unlisted") for s in OTHER_STATES[1:]]])
    tight = np.array([1.0, 0.0, 0.0, 0.0])
    # Three questions side by side, one column each.
    ask_seal: Array = np.stack([tight, np.ones(4), tight], axis=1)
    ask_other: Array = np.stack([np.ones(3), listed, listed], axis=1)
    asked = dict.fromkeys(now_names(solved).values(), ask_seal) | dict.fromkeys(others, ask_other)
    logs = solved.tree.log_evidence(combine([solved.evidence, Evidence(asked)]))
    chances = np.exp(np.asarray(logs) - np.asarray(solved.beliefs.log_evidence))
    none, all_listed, nothing = np.clip(chances, 0.0, 1.0)
    listed_there = 1 - unlisted_elsewhere(network, priors)
    return float(none), float(1 - all_listed * listed_there), float(nothing * listed_there)


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of what ``leakdx rank --json`` prints."""
    chance = {"type": "number", "minimum": 0, "maximum": 1}
    text = {"type": "string"}
    row = {
        "seal_point": text | {"description": "id in the machine file"},
        "name": text,
        "fluid": text | {"description": "id of its fluid"},
        "zones": {"type": "array", "items": text, "description": "where its leak first shows"},
        "leaks": chance | {"description": "chance that it leaks now"},
        "decibans": {"type": "number", "description": "10 log10 of the odds that it leaks"},
        "seeping": chance | {"description": "chance that it wets without a drop (class I)"},
        "drops": chance | {"description": "chance that drops form (class II)"},
        "dripping": chance | {"description": "chance that drops fall (class III)"},
    }
    leak_set = {
        "seal_points": {"type": "array", "items": text, "description": "these leak, no others"},
        "probability": chance,
    }
    properties = {
        "format": {"const": FORMAT},
        "job": text,
        "machine": text,
        "ranking": {"type": "array", "items": closed(row), "description": "most likely first"},
        "sets": {"type": "array", "items": closed(leak_set), "description": "most probable first"},
        "sets_proven": {
            "type": "boolean",
            "description": "no set left out is more probable than the last one listed",
        },
        "none_leaks": chance | {"description": "no listed seal point leaks now"},
        "not_listed": chance | {"description": "an origin not in the machine file leaks"},
        "nothing_leaks": chance | {"description": "neither: what is seen is spilled or old"},
        "evidence_probability": chance | {"description": "probability of the readings"},
        "log_evidence": {"type": "number", "maximum": log(1.0), "description": "its natural log"},
        "readings": {"type": "integer", "minimum": 0, "description": "readings counted"},
        "why": {"type": "array", "items": text, "description": "what most likely lies behind"},
        "notes": {"type": "array", "items": text, "description": "what was taken for granted"},
        "next_step": text,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "leakdx:rank/1",
        "title": "Ranking",
        "description": "Where the fluid of a job most likely comes from.",
        **closed(properties),
    }
