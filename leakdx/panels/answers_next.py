"""The next look, for the page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from leakdx.advice.cautions import FIRST_OF_ALL
from leakdx.advice.costs import money
from leakdx.advice.next_look import NOTHING_SEEN, NextLook, Telling, spoken
from leakdx.advice.proposal import Outcome, Proposal
from leakdx.advice.words import percent
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob
from leakdx.machine.model import Inspection
from leakdx.panels.answers_entries import entries_of, washes
from leakdx.panels.names import Names, on_the_page
from leakdx.panels.shapes import LookSaid, NextAnswer, OutcomeSaid, Read, Said, Trouble

# Looks told of, and others named in one line.
LOOKS, NAMED = 12, 3
NOT_COUNTED = "{}, to keep the sums exact"


def next_answer(found: NextLook, loaded: LoadedJob, head: int) -> NextAnswer:
    """What to look at next, or what to renew, in the words of ``leakdx next``."""
    names = Names(loaded.machine)
    inspections = {i.id: i for i in loaded.machine.inspections}
    told = _Looks(found, loaded, names, inspections)
    plan = found.plan
    return {
        "head": head,
        "sentence": told.sentence(),
        "stop": found.stop,
        "begin": found.stop == NOTHING_SEEN,
        "looks": [told.look(p) for p in found.proposals[:LOOKS]],
        "telling": None if found.telling is None else _telling(found.telling, names),
        "plan": {
            "seals": [{"id": s, "name": names.seals[s]} for s in plan.seals],
            "said": plan.said,
            "dry": plan.dry,
            "dry_said": percent(plan.dry),
        },
        "closed": [{"name": names.looks[i], "why": why} for i, why in found.closed],
        "left_out": [NOT_COUNTED.format(spoken(s)) for s in found.left_out],
        "cautions": [FIRST_OF_ALL],
    }


def no_next(head: int, why: Trouble) -> NextAnswer:
    """What is told where no look can be weighed."""
    return {
        "head": head,
        "sentence": f"Which look pays most cannot be told: {why['said']}",
        "stop": why["said"],
        "begin": False,
        "looks": [],
        "telling": None,
        "plan": {"seals": [], "said": "", "dry": 0.0, "dry_said": "not known"},
        "closed": [],
        "left_out": [],
        "cautions": [FIRST_OF_ALL],
    }


class _Looks:
    """Tells looks one by one."""

    def __init__(
        self,
        found: NextLook,
        loaded: LoadedJob,
        names: Names,
        inspections: Mapping[str, Inspection],
    ) -> None:
        self.found = found
        self.by_id = {p.inspection: p for p in found.proposals}
        self.loaded = loaded
        self.names = names
        self.inspections = inspections

    def sentence(self) -> str:
        """The answer in a sentence, with the names of the machine in what the look could show."""
        said = on_the_page(self.found.sentence)
        if self.found.stop is not None:
            return said
        best = self.found.proposals[0]
        for outcome in best.outcomes:
            shown = self._said(best, self.inspections[best.inspection], outcome.label)
            said = said.replace(f"; if {spoken(outcome.label)}, ", f"; if {shown}, ")
        return said

    def look(self, p: Proposal) -> LookSaid:
        inspection = self.inspections[p.inspection]
        return {
            "inspection": p.inspection,
            "name": p.name,
            "minutes": p.minutes,
            "steps": [self.names.steps[s] for s in p.steps],
            "cautions": list(p.cautions),
            "state": [spoken(s) for s in p.state],
            "ready": list(_ready(p)),
            "spoils": list(self._later(p)),
            "risks": list(_risks(p)),
            "bits": p.bits,
            "saves": _saves(p, self.loaded.job),
            "reads": list(self._reads(inspection)),
            "washes": washes(inspection),
            "outcomes": [self._outcome(p, inspection, o) for o in p.outcomes],
        }

    def _reads(self, inspection: Inspection) -> Iterator[Read]:
        for zone in inspection.reads.zones:
            yield {"kind": "zone", "id": zone, "name": self.names.zones[zone]}
        for seal in inspection.reads.seal_points:
            yield {"kind": "seal_point", "id": seal, "name": self.names.seals[seal]}
        for sign in inspection.reads.signs:
            yield {"kind": "sign", "id": sign.value, "name": spoken(sign.value)}

    def _outcome(self, p: Proposal, inspection: Inspection, outcome: Outcome) -> OutcomeSaid:
        # Not whole: the label is of the one thing that tells most, and leaves the others open.
        entries = entries_of(self.loaded.machine, inspection, outcome.label) if p.whole else None
        return {
            "label": outcome.label,
            "said": self._said(p, inspection, outcome.label),
            "chance": outcome.chance,
            "text": percent(outcome.chance),
            "then": [
                {"seal": s, "name": self.names.seals[s], "text": percent(leaks)}
                for s, leaks in outcome.first
            ],
            "entries": entries,
        }

    def _said(self, p: Proposal, inspection: Inspection, label: str) -> str:
        """The label of an outcome with the names of the machine."""
        reads = inspection.reads
        if label in ("dry", "wet"):
            if not p.whole:
                return f"{label} where it tells most"
            if not reads.zones and not reads.seal_points:
                sign = ", ".join(spoken(s.value) for s in reads.signs)
                return f"{sign}: {'yes' if label == 'wet' else 'no'}"
            if not reads.zones and label == "dry":
                return "tight"
            return label
        for thing in (*reads.zones, *reads.seal_points, *(s.value for s in reads.signs)):
            name = self.names.thing(thing)
            for words in ("only {} wet", "several wet, not {}", "several wet, {} too"):
                if label == words.format(thing):
                    return words.format(name)
        return label

    def _later(self, p: Proposal) -> Iterator[str]:
        """What a look does to others that are worth taking."""
        by_id = self.by_id
        lost = [by_id[s].name for s in p.spoils if by_id[s].fall > by_id[s].minutes]
        dear = [by_id[s].name for s in p.delays]
        for looks, what in ((lost, "no longer possible as now"), (dear, "dearer")):
            if looks:
                more = f" and {len(looks) - NAMED} more" if len(looks) > NAMED else ""
                yield f"After it {what}: {'; '.join(looks[:NAMED])}{more}."


def _ready(p: Proposal) -> Iterator[str]:
    """What it takes to bring the machine into the state that a look asks for."""
    if p.ready >= 0.5:
        yield f"Of the {p.minutes:.0f} minutes {p.ready:.0f} are for bringing it there."
    if p.waits:
        yield f"Unless it is so already, it stands about {p.waits / 60:.0f} h for that."


def _risks(p: Proposal) -> Iterator[str]:
    yield from p.risks
    if p.risks:
        yield f"Counted at {p.risk:.0f} minutes on average."


def _saves(p: Proposal, job: Job) -> str:
    if p.gain <= 0:
        return "nothing: it costs more than it tells"
    return f"{'about' if p.whole else 'at least'} {money(p.gain, job)}"


def _telling(telling: Telling, names: Names) -> Said:
    first, second = names.seals[telling.first], names.seals[telling.second]
    return {
        "said": (
            f"Tells {first} and {second} apart best: {names.looks[telling.inspection]}, at "
            f"{names.thing(telling.thing)}; wet speaks {telling.wet:+.0f} decibans for the first, "
            f"dry {telling.dry:+.0f}."
        )
    }
