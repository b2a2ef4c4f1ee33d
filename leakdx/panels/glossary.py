"""The words of the page for everything a person can say, each with one sentence of help."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import TypedDict, TypeVar

from leakdx.case.model import Age, ContextKind, SealState, Sureness, ZoneState
from leakdx.machine.model import Method, SignKind
from leakdx.network.refit import Check, How
from leakdx.network.setting import Use

_Choice = TypeVar("_Choice", bound=StrEnum)


class WordSaid(TypedDict):
    """One choice: what it is called, and a sentence of help."""

    id: str
    said: str
    help: str


@dataclass(frozen=True)
class Word:
    """said: as on a button.  within: as within a sentence."""

    said: str
    within: str
    help: str


@dataclass(frozen=True)
class SignWords:
    """A sign as a question and as it is or is not; "{fluid}" stands for the fluid's name."""

    ask: str
    is_so: str
    is_not: str
    help: str


@dataclass(frozen=True)
class ContextWords:
    """about: what it is told of, a seal point, a fluid, a zone or the machine."""

    said: str
    about: tuple[str, ...]
    help: str


ZONE_STATES: Mapping[ZoneState, Word] = MappingProxyType(
    {
        ZoneState.DRY: Word("Dry", "dry", "You looked, and there was no fluid on it."),
        ZoneState.FILM: Word("Film", "film", "A thin wet coat that does not run."),
        ZoneState.RUNNING: Word("Running", "running", "Fluid runs down it in tracks."),
        ZoneState.DRIPPING: Word("Dripping", "dripping", "Drops fall from it."),
        ZoneState.WET: Word("Wet", "wet", "Wet, but you cannot say whether it runs or drips."),
        ZoneState.NOT_LOOKED: Word(
            "Not looked at", "not looked at", "It counts neither as wet nor as dry."
        ),
    }
)
SEAL_STATES: Mapping[SealState, Word] = MappingProxyType(
    {
        SealState.TIGHT: Word("Tight", "tight", "You looked closely, and the joint itself is dry."),
        SealState.WEEPING: Word("Weeping", "weeping", "Damp at the joint; no drop forms."),
        SealState.DROPS_FORM: Word(
            "Drops form", "drops form", "Drops form at the joint but do not fall."
        ),
        SealState.DRIPPING: Word("Dripping", "dripping", "Drops form at the joint and fall."),
        SealState.WET: Word("Wet", "wet", "Wet at the joint, but you cannot say how much."),
        SealState.NOT_LOOKED: Word(
            "Not looked at", "not looked at", "It counts neither as leaking nor as tight."
        ),
    }
)
AGES: Mapping[Age, Word] = MappingProxyType(
    {
        Age.FRESH: Word("Fresh", "fresh", "Clean and shiny, with little dirt in it."),
        Age.AGED: Word("Aged", "aged", "Dust and dirt stick to it."),
        Age.BAKED: Word("Baked", "baked on", "Dark and dull, dried on by heat."),
    }
)
METHODS: Mapping[Method, Word] = MappingProxyType(
    {
        Method.EYES: Word("By eye", "by eye", "Looked at directly, with a good light."),
        Method.MIRROR: Word(
            "Mirror", "with a mirror", "Looked at in a mirror; keep it clear of moving parts."
        ),
        Method.BORESCOPE: Word(
            "Borescope",
            "with a borescope",
            "Looked at through a borescope; let hot parts cool before it goes in.",
        ),
        Method.WIPE: Word(
            "Clean rag",
            "wiped with a rag",
            "Wiped with a clean rag, which takes the evidence off; only with the machine stopped.",
        ),
        Method.FINGER: Word(
            "By feel",
            "by feel",
            "Felt with a gloved finger, stopped and cool; never where fluid is under pressure.",
        ),
        Method.SMELL: Word("Smell", "by smell", "Smelt from a distance; keep flames away."),
        Method.DYE_LAMP: Word(
            "Dye and lamp",
            "with dye and lamp",
            "Dye in the fluid, seen under its lamp; wear the matching glasses.",
        ),
        Method.POWDER: Word(
            "Powder",
            "with powder",
            "Cleaned, powdered and run, so that fluid shows as a stain; do not breathe the powder.",
        ),
        Method.SOAPY_WATER: Word(
            "Soapy water",
            "with soapy water",
            "Soapy water on the joint and a little air behind it: only as much air as the maker "
            "states.",
        ),
        Method.PRESSURE_TEST: Word(
            "Pressure test",
            "under test pressure",
            "Held under pressure and looked at: never more than the maker states.",
        ),
        Method.CASE_PRESSURE: Word(
            "Case pressure", "by case pressure", "The pressure in the case was measured."
        ),
        Method.LEVEL_CHECK: Word("Level", "by the level", "The level was read."),
        Method.WASH_AND_RUN: Word(
            "Washed and run",
            "washed and run first",
            "Washed, run and looked at again; stop it before you reach in.",
        ),
        Method.TORQUE_CHECK: Word(
            "Torque check",
            "by torque check",
            "The fasteners were tried with a torque wrench at the stated torque.",
        ),
        Method.GROUND_SHEET: Word(
            "Sheet on the ground", "by a sheet on the ground", "A clean sheet was laid under it."
        ),
    }
)
SURENESS: Mapping[Sureness, Word] = MappingProxyType(
    {
        Sureness.POOR: Word("Poor", "seen poorly", "Dark, dirty or half hidden: counts for less."),
        Sureness.NORMAL: Word("Usual", "seen", "As well as one usually sees there."),
        Sureness.GOOD: Word("Good", "seen well", "Clean, well lit and close: counts for more."),
    }
)
USES: Mapping[Use, Word] = MappingProxyType(
    {
        Use.PARKED: Word("Parked", "parked", "It stood with everything off."),
        Use.IDLED: Word("Idled", "idled", "It ran where it stands; keep clear of moving parts."),
        Use.DRIVEN: Word("Driven", "driven", "It was driven, or worked, as usual."),
    }
)
HOWS: Mapping[How, Word] = MappingProxyType(
    {
        How.NEW_PART: Word("A new part", "with a new part", "The old part was replaced."),
        How.SHORTENED: Word(
            "Hose cut back", "hose cut back", "A hose end was cut back a little and refitted."
        ),
        How.REFITTED: Word(
            "The same part again", "with the same part", "The same part was put back."
        ),
    }
)
CHECKS: Mapping[Check, Word] = MappingProxyType(
    {
        Check.MIRROR: Word(
            "Lies right all round",
            "lies right all round",
            "Seen with a mirror before closing up: the seal lies right along its whole edge.",
        ),
        Check.WIPED: Word(
            "Faces clean and dry",
            "faces clean and dry",
            "Both faces were wiped clean and dry before it was put together.",
        ),
        Check.TORQUE: Word(
            "Every fastener to torque",
            "every fastener to torque",
            "Every fastener was tightened to its stated torque, in its order.",
        ),
    }
)
SIGNS: Mapping[SignKind, SignWords] = MappingProxyType(
    {
        SignKind.LEVEL_FALLS: SignWords(
            "Does the level of the {fluid} fall?",
            "The level of the {fluid} falls",
            "The level of the {fluid} does not fall",
            "More has to be topped up than is usual for this machine.",
        ),
        SignKind.LEVEL_RISES: SignWords(
            "Does the level of the {fluid} rise?",
            "The level of the {fluid} rises",
            "The level of the {fluid} does not rise",
            "It stands higher than it was filled: something else may be getting in.",
        ),
        SignKind.PRESSURE_LOSS: SignWords(
            "Does the system lose pressure?",
            "The system loses pressure",
            "The system holds its pressure",
            "Held at the pressure the maker states, the gauge falls; let the pressure off before "
            "anything is opened.",
        ),
        SignKind.GROUND_WET: SignWords(
            "Is the ground under it wet?",
            "The ground under it is wet",
            "The ground under it is dry",
            "A clean sheet laid under it overnight shows it best.",
        ),
        SignKind.SMOKE: SignWords(
            "Is there smoke?",
            "There is smoke",
            "There is no smoke",
            "Smoke rises from hot parts; stop at once if there is any flame.",
        ),
        SignKind.BURNT_SMELL: SignWords(
            "Does it smell of burnt fluid?",
            "It smells of burnt fluid",
            "It does not smell of burnt fluid",
            "Fluid on a hot part; let it cool before you reach in.",
        ),
        SignKind.FUEL_SMELL: SignWords(
            "Does it smell of fuel?",
            "It smells of fuel",
            "It does not smell of fuel",
            "Fuel vapour ignites: no flame, no spark, and let fresh air in first.",
        ),
        SignKind.FLUID_THINNED: SignWords(
            "Is the {fluid} thinned?",
            "The {fluid} is thinned",
            "The {fluid} is not thinned",
            "It is thinner than it should be, or smells of fuel.",
        ),
        SignKind.FLUID_EMULSIFIED: SignWords(
            "Is the {fluid} milky, or mixed with another?",
            "The {fluid} is milky or mixed",
            "The {fluid} is clear",
            "Milky oil, or oil afloat on coolant; never open a hot cooling system.",
        ),
        SignKind.LEAKS_COLD_START: SignWords(
            "Does it leak at a cold start?",
            "It leaks at a cold start",
            "It does not leak at a cold start",
            "Watched from a safe place in the first minutes after a cold start.",
        ),
        SignKind.LEAKS_HOT_IDLE: SignWords(
            "Does it leak at hot idle?",
            "It leaks at hot idle",
            "It does not leak at hot idle",
            "Watched warm and idling; keep clear of belts, fans and hot parts.",
        ),
        SignKind.LEAKS_AT_SPEED: SignWords(
            "Does it leak at speed?",
            "It leaks at speed",
            "It does not leak at speed",
            "Seen after a drive or under load; never reach in while it runs.",
        ),
        SignKind.LEAKS_AT_REST: SignWords(
            "Does it leak at rest?",
            "It leaks at rest",
            "It does not leak at rest",
            "It was off all the while, as overnight.",
        ),
    }
)
_SEAL, _FLUID, _ZONE, _MACHINE = "seal_point", "fluid", "zone", "machine"
CONTEXTS: Mapping[ContextKind, ContextWords] = MappingProxyType(
    {
        ContextKind.RECENT_WORK: ContextWords(
            "Worked on lately", (_SEAL,), "The joint was apart or disturbed not long ago."
        ),
        ContextKind.RENEWED: ContextWords(
            "Renewed before this job", (_SEAL,), "The seal is newer than the rest."
        ),
        ContextKind.LONG_IDLE: ContextWords(
            "Stood unused for long", (_MACHINE,), "It was not run for months or longer."
        ),
        ContextKind.SEALANT_SEEN: ContextWords(
            "Sealant squeezed out", (_SEAL,), "Sealing compound shows along the joint."
        ),
        ContextKind.HARD_AND_RIGID: ContextWords(
            "Gasket hard as plastic", (_SEAL,), "The seal no longer gives under a fingernail."
        ),
        ContextKind.FASTENER_LOOSE: ContextWords(
            "Fastener loose", (_SEAL,), "A bolt, nut or clamp of this joint turns too easily."
        ),
        ContextKind.FASTENER_MISSING: ContextWords(
            "Fastener missing", (_SEAL,), "A bolt, nut or clamp of this joint is not there."
        ),
        ContextKind.FASTENER_TOO_LONG: ContextWords(
            "Fastener too long", (_SEAL,), "A bolt meets the bottom of its hole before it clamps."
        ),
        ContextKind.OVERTIGHTENED: ContextWords(
            "Overtightened", (_SEAL,), "The joint was drawn up too far: bent, crushed or stripped."
        ),
        ContextKind.GASKET_ROLLED: ContextWords(
            "Gasket rolled or pinched", (_SEAL,), "The seal has left its place along the edge."
        ),
        ContextKind.CORRODED: ContextWords(
            "Corroded", (_SEAL,), "Rust or pitting at the sealing face or the wall."
        ),
        ContextKind.DRAIN_BACK_BLOCKED: ContextWords(
            "Drain-back blocked",
            (_SEAL,),
            "Oil stands over this joint, because its way back is blocked.",
        ),
        ContextKind.VENTILATION_BLOCKED: ContextWords(
            "Ventilation blocked",
            (_FLUID,),
            "The breather of the case does not let air through, so pressure builds up.",
        ),
        ContextKind.VENTILATION_CLEAR: ContextWords(
            "Ventilation clear", (_FLUID,), "The breather was tried, and lets air through."
        ),
        ContextKind.OVERFILLED: ContextWords(
            "Overfilled", (_FLUID,), "The level stands above its upper mark."
        ),
        ContextKind.SPILLED_AT_FILLING: ContextWords(
            "Spilled at filling",
            (_ZONE, _FLUID),
            "Some was spilled here when it was filled, so it may be wet without a leak.",
        ),
    }
)


def words() -> dict[str, list[WordSaid]]:
    """All choices of the page but signs and contexts, in the order they are shown."""
    return {
        "zone_states": _said(ZONE_STATES),
        "seal_states": _said(SEAL_STATES),
        "ages": _said(AGES),
        "methods": _said(METHODS),
        "sureness": _said(SURENESS),
        "uses": _said(USES),
        "hows": _said(HOWS),
        "checks": _said(CHECKS),
    }


def _said(table: Mapping[_Choice, Word]) -> list[WordSaid]:
    return [{"id": one.value, "said": w.said, "help": w.help} for one, w in table.items()]
