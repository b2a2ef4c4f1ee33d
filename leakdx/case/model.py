"""One job as frozen data: the machine, its conditions, and a timeline of what was seen and done.

A reading that was not taken is absent, or says ``not_looked``; neither means dry.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, StringConstraints, Tag

from leakdx.machine.model import (
    Identifier,
    Method,
    NotNegative,
    Number,
    Positive,
    Probability,
    Record,
    SignKind,
    Text,
)
from leakdx.network.refit import Check, How
from leakdx.network.setting import Use

FORMAT = "leakdx-job/1"


class ZoneState(StrEnum):
    """How a zone looks. ``not_looked`` says nothing at all."""

    DRY = "dry"
    FILM = "film"
    RUNNING = "running"
    DRIPPING = "dripping"
    WET = "wet"
    NOT_LOOKED = "not_looked"


class SealState(StrEnum):
    """How a seal point looks from close by (the leak classes of US Army technical manuals)."""

    TIGHT = "tight"
    WEEPING = "weeping"
    DROPS_FORM = "drops_form"
    DRIPPING = "dripping"
    WET = "wet"
    NOT_LOOKED = "not_looked"


class Age(StrEnum):
    """How the residue looks: more dirt means older."""

    FRESH = "fresh"
    AGED = "aged"
    BAKED = "baked"


class ContextKind(StrEnum):
    """What is known of a joint or of the machine besides the wet and the dry."""

    RECENT_WORK = "recent_work"
    RENEWED = "renewed"
    LONG_IDLE = "long_idle"
    SEALANT_SEEN = "sealant_seen"
    HARD_AND_RIGID = "hard_and_rigid"
    FASTENER_LOOSE = "fastener_loose"
    FASTENER_MISSING = "fastener_missing"
    FASTENER_TOO_LONG = "fastener_too_long"
    OVERTIGHTENED = "overtightened"
    GASKET_ROLLED = "gasket_rolled"
    CORRODED = "corroded"
    DRAIN_BACK_BLOCKED = "drain_back_blocked"
    VENTILATION_BLOCKED = "ventilation_blocked"
    VENTILATION_CLEAR = "ventilation_clear"
    OVERFILLED = "overfilled"
    SPILLED_AT_FILLING = "spilled_at_filling"


class Yes(StrEnum):
    """Answer to a sign."""

    YES = "yes"
    NO = "no"
    NOT_LOOKED = "not_looked"


class Sureness(StrEnum):
    """How well the technician could see."""

    POOR = "poor"
    NORMAL = "normal"
    GOOD = "good"


class Conditions(Record):
    """How the machine stood and ran while the fluid spread."""

    stand: Identifier | None = Field(
        default=None, description="one of the machine's stands, instead of pitch and roll"
    )
    pitch_deg: Annotated[float, Field(ge=-90, le=90, allow_inf_nan=False)] | None = Field(
        default=None, description="nose up positive; level if absent"
    )
    roll_deg: Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)] | None = Field(
        default=None, description="left side up positive (leaning to the right); level if absent"
    )
    use: Use | None = Field(
        default=None,
        description="parked (off), idled (running where it stands) or driven; "
        "without it, leaks run as they do on average",
    )
    airflow_m_s: NotNegative | None = Field(
        default=None, description="if absent: a fan's breeze idled, a usual one driven, else none"
    )
    fluid_temperature_C: Annotated[float, Field(ge=-60, le=300, allow_inf_nan=False)] | None = None
    hours: NotNegative | None = Field(
        default=None, description="run since the surface was last clean; unknown if absent"
    )


class SealHistory(Record):
    """What this job knows of one seal point's life; overrides the machine file."""

    seal_point: Identifier
    age_years: NotNegative | None = None
    hours: NotNegative | None = None


class Costs(Record):
    """What a repair costs in this workshop; money in one currency throughout."""

    currency: Annotated[
        str, StringConstraints(strip_whitespace=True, min_length=1, max_length=12)
    ] = Field(description="as it is to be shown: EUR, kr")
    labour_per_hour: Positive = Field(description="money an hour of labour")
    comeback: Positive = Field(
        description="money a leak left behind costs beside renewing again: washing, visit, goodwill"
    )
    part: Positive | None = Field(
        default=None, description="money, usual part; the usual one of each kind if absent"
    )
    parts: dict[Identifier, NotNegative] = Field(
        default_factory=dict,
        description="seal point -> money, its part; of one stretch: the whole gasket",
    )


class Entry(Record):
    """Common to everything in the timeline."""

    at: Text | None = Field(default=None, description="when; free text or ISO 8601")
    note: str = ""


class ZoneReading(Entry):
    """A zone was looked at."""

    zone: Identifier
    state: ZoneState
    age: Age | None = None
    fluid: Identifier | None = None
    drops_per_minute: Positive | None = Field(
        default=None, description="counted where drops fall from this zone"
    )
    method: Method = Method.EYES
    sure: Sureness = Sureness.NORMAL
    inspection: Identifier | None = None


class SealReading(Entry):
    """A seal point was looked at closely."""

    seal_point: Identifier
    state: SealState
    method: Method = Method.EYES
    sure: Sureness = Sureness.NORMAL
    inspection: Identifier | None = None


class Sign(Entry):
    """A sign of the whole machine."""

    sign: SignKind
    value: Yes = Yes.YES
    fluid: Identifier | None = None


class Context(Entry):
    """Something known of a joint, or of the machine."""

    context: ContextKind
    seal_point: Identifier | None = None
    fluid: Identifier | None = None
    zone: Identifier | None = None


class Wash(Entry):
    """The machine, or some zones of it, was washed: a new epoch."""

    wash: Literal["whole"] | tuple[Identifier, ...]
    thoroughness: Probability = 0.95


class Run(Entry):
    """The machine ran, or stood, for a time."""

    run_minutes: Positive
    use: Use | None = Field(default=None, description="as in the conditions if absent")
    stand: Identifier | None = Field(
        default=None, description="one of the machine's stands; as in the conditions if absent"
    )
    airflow_m_s: NotNegative | None = None
    fluid_temperature_C: Number | None = None


class Renewal(Entry):
    """A seal point was renewed."""

    renew: Identifier
    checks: tuple[Check, ...] = Field(
        default=(),
        description="before closing up: mirror (the seal lies right all round), wiped (faces "
        "clean and dry), torque (every fastener, in order)",
    )
    how: How = Field(
        default=How.NEW_PART,
        description="shortened: a hose end cut back by a few mm and refitted; refitted: the same "
        "part put back",
    )


EntryNumber = Annotated[int, Field(ge=1, description="number of an earlier entry, from 1")]


class Withdraw(Entry):
    """An earlier entry was taken back: it never counted.  It stays in the file."""

    withdraw: EntryNumber


class Correct(Entry):
    """Another entry of the same kind stands in the place of an earlier one, at its time."""

    correct: EntryNumber
    to: Done


KINDS: Mapping[str, str] = MappingProxyType(
    {
        "withdraw": "a withdrawal",
        "correct": "a correction",
        "wash": "a wash",
        "run_minutes": "a run",
        "renew": "a renewal",
        "sign": "a sign",
        "context": "a context",
        "zone": "a reading of a zone",
        "seal_point": "a reading of a seal point",
    }
)


def entry_kind(value: Any) -> str | None:
    """The key of KINDS that says what an entry is, written or made; None where none does."""
    keys = value if isinstance(value, Mapping) else getattr(type(value), "model_fields", {})
    return next((key for key in KINDS if key in keys), None)


_Plain = (
    Annotated[ZoneReading, Tag("zone")]
    | Annotated[SealReading, Tag("seal_point")]
    | Annotated[Sign, Tag("sign")]
    | Annotated[Context, Tag("context")]
    | Annotated[Wash, Tag("wash")]
    | Annotated[Run, Tag("run_minutes")]
    | Annotated[Renewal, Tag("renew")]
)
# What was seen or done.
Done = Annotated[_Plain, Discriminator(entry_kind)]
Event = Annotated[
    _Plain | Annotated[Withdraw, Tag("withdraw")] | Annotated[Correct, Tag("correct")],
    Discriminator(entry_kind),
]
Correct.model_rebuild()


class MachineReference(Record):
    """Which machine the job is about."""

    id: Identifier
    version: str
    file: str | None = Field(
        default=None, description="path beside the job file; without it, the shipped machine"
    )


class Job(Record):
    """One job."""

    format: Literal["leakdx-job/1"]
    id: Identifier
    name: Text | None = None
    machine: MachineReference
    conditions: Conditions = Conditions()
    costs: Costs | None = Field(
        default=None, description="without it, all is reckoned in usual minutes of labour"
    )
    seal_histories: tuple[SealHistory, ...] = ()
    timeline: tuple[Event, ...] = ()
