"""One machine as frozen data: surfaces, seal points, fluids, access and inspections.

Axes: x forward, y left, z up (ISO 8855), in millimetres.  This room knows nothing of
probability beyond the miss and false-call chances that an inspection's owner writes down.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

FORMAT = "leakdx-machine/1"

# No double underscore: it keeps the parts of a network variable's name apart.
Identifier = Annotated[
    str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$", max_length=64)
]
Text = Annotated[str, StringConstraints(min_length=1, max_length=400)]
Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Probability = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Vector = tuple[Number, Number, Number]
# For refitting, as the owner of the file states it; nothing is ever put in for what is absent.
Torque = Annotated[Positive | None, Field(description="N m, of each of its fasteners")]
TorqueFrom = Annotated[Text | None, Field(description="whose figure the torque is, or: invented")]
OneUse = Annotated[tuple[Text, ...], Field(description="parts that have to be new each time")]


# ISO 3448 and SAE J300: the grades there are.
_VG = "2|3|5|7|10|15|22|32|46|68|100|150|220|320|460|680|1000|1500"
Grade = Annotated[str, StringConstraints(pattern=rf"^(VG ({_VG})|SAE (20|30|40|50|60))$")]
AboveAbsoluteZero = Annotated[float, Field(gt=-273.15, lt=1000, allow_inf_nan=False)]


class Record(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Surface(StrEnum):
    """What a zone is made of, as far as a film of fluid cares."""

    PAINTED_METAL = "painted_metal"
    CAST_METAL = "cast_metal"
    MACHINED_METAL = "machined_metal"
    PLASTIC = "plastic"
    RUBBER = "rubber"
    INSULATION = "insulation"
    HEAT_SHIELD = "heat_shield"
    TRAY = "tray"


class FluidKind(StrEnum):
    """Families of fluid; defaults for viscosity and density come with the family."""

    ENGINE_OIL = "engine_oil"
    GEAR_OIL = "gear_oil"
    HYDRAULIC_OIL = "hydraulic_oil"
    COOLANT = "coolant"
    DIESEL_FUEL = "diesel_fuel"
    PETROL = "petrol"
    BRAKE_FLUID = "brake_fluid"
    GREASE = "grease"
    WATER = "water"


class SealKind(StrEnum):
    """Kinds of seal point, in the words of the trade."""

    FLAT_GASKET = "flat_gasket"
    MOULDED_GASKET = "moulded_gasket"
    SEALANT_JOINT = "sealant_joint"
    HEAD_GASKET = "head_gasket"
    O_RING = "o_ring"
    SHAFT_LIP_SEAL = "shaft_lip_seal"
    ROD_SEAL = "rod_seal"
    THREADED_PLUG = "threaded_plug"
    BONDED_WASHER = "bonded_washer"
    CRUSH_WASHER = "crush_washer"
    PIPE_UNION = "pipe_union"
    HOSE_END = "hose_end"
    HOSE_CRIMP = "hose_crimp"
    CORE_PLUG = "core_plug"
    SENDER = "sender"
    TUBE_BASE = "tube_base"
    HEAT_EXCHANGER_CORE = "heat_exchanger_core"
    CASTING_CRACK = "casting_crack"
    CASTING_POROSITY = "casting_porosity"
    WELD = "weld"
    CORRODED_WALL = "corroded_wall"
    OPEN_HOLE = "open_hole"
    BREATHER = "breather"


class Drive(StrEnum):
    """What pushes the fluid out of a seal point; it decides when the point leaks."""

    PRESSURE_FED = "pressure_fed"
    SPLASH = "splash"
    GAS_PRESSURE = "gas_pressure"
    STATIC_HEAD = "static_head"
    SUCTION = "suction"


class Material(StrEnum):
    """Seal materials with a published rated temperature, and the plain metals."""

    NITRILE = "nitrile"
    NEOPRENE = "neoprene"
    ETHYLENE_PROPYLENE = "ethylene_propylene"
    POLYACRYLATE = "polyacrylate"
    SILICONE = "silicone"
    FLUOROCARBON = "fluorocarbon"
    LEATHER = "leather"
    CORK = "cork"
    PAPER = "paper"
    FIBRE = "fibre"
    COPPER = "copper"
    STEEL = "steel"
    ALUMINIUM = "aluminium"
    CAST_IRON = "cast_iron"
    LIQUID_SEALANT = "liquid_sealant"


class MachineState(StrEnum):
    """The state a machine must be in for an inspection."""

    ANY = "any"
    COLD = "cold"
    COOLED = "cooled"
    RUNNING = "running"
    HOT_IDLE = "hot_idle"
    DRIVEN = "driven"
    LIFTED = "lifted"
    BATTERY_OFF = "battery_off"
    DRAINED = "drained"
    WASHED = "washed"


class Fluid(Record):
    """A fluid in one system of the machine.

    Give a grade ("VG 46", "SAE 40"), or two viscosity points, or neither: then the
    family's default from the priors is used.
    """

    id: Identifier
    kind: FluidKind
    name: Text | None = None
    grade: Grade | None = None
    viscosity_mm2_s: dict[AboveAbsoluteZero, Positive] | None = Field(
        default=None,
        description="temperature in degrees C -> kinematic viscosity in mm2/s",
    )
    density_15C_kg_m3: Positive | None = None


class Box(Record):
    """An axis-parallel box, corner to corner, mm."""

    low: Vector
    high: Vector


class Turn(Record):
    """A turn about an axis, right-handed: a positive one about x lifts the left side."""

    axis: Vector = Field(description="any length but zero")
    degrees: Number


class Zone(Record):
    """A patch of surface a technician would name."""

    id: Identifier
    name: Text | None = None
    centroid_mm: Vector
    normal: Vector = Field(description="outward normal; any length but zero")
    area_mm2: Positive
    bbox_mm: Box | None = Field(
        default=None, description="without it, a patch of that area round the centroid"
    )
    turn: Turn | None = Field(
        default=None, description="how bbox_mm is turned about its own middle; without it, not"
    )
    surface: Surface = Surface.CAST_METAL
    holds_ml: NotNegative = Field(
        default=0.0, description="a pocket, shield or tray that must fill before it spills"
    )
    airflow_exposure: Probability | None = Field(
        default=None, description="share of the free airflow that sweeps the patch"
    )
    temperature_C: Number | None = Field(default=None, description="when the machine is hot")
    hidden: bool = Field(default=False, description="cannot be seen until something comes off")
    spins: Positive | None = Field(
        default=None, description="radius in mm of a rotating part here that flings fluid"
    )
    spin_axis: Vector = (1.0, 0.0, 0.0)


class Neighbour(Record):
    """Two zones that share an edge fluid can run over."""

    between: tuple[Identifier, Identifier]
    shared_edge_mm: Positive


class DrawnPath(Record):
    """A path someone knows of and geometry does not show: a drain hole, a gutter, a cable."""

    source: Identifier
    target: Identifier
    share: Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)] = 0.5
    wicks: bool = False


class SealService(Record):
    """What is known of the life of one seal point on this machine."""

    age_years: NotNegative | None = None
    hours: NotNegative | None = None
    renewed: bool | None = None


class SealPoint(Record):
    """A joint, seal, plug, fitting or wall that can let fluid out."""

    id: Identifier
    name: Text | None = None
    kind: SealKind
    zones: Annotated[tuple[Identifier, ...], Field(min_length=1)] = Field(
        description="the zone or zones on which fluid from this point first shows"
    )
    position_mm: Vector | None = None
    fluid: Identifier
    leaks_into: Identifier | None = Field(
        default=None, description="the other fluid system, where the leak is internal"
    )
    drive: Drive = Drive.SPLASH
    material: Material | None = None
    temperature_C: Number | None = None
    length_mm: Positive | None = Field(default=None, description="length of the sealing line")
    tight_access: bool = Field(default=False, description="refitting it blind is likely")
    access: tuple[Identifier, ...] = ()
    part_of: Identifier | None = Field(
        default=None, description="the gasket or seal of which this point is one stretch"
    )
    torque_Nm: Torque = None
    torque_from: TorqueFrom = None
    tighten: Text | None = Field(default=None, description="order and stages of tightening")
    one_use: OneUse = ()
    service: SealService = SealService()


class CauseKind(StrEnum):
    """Causes that raise several seal points at once."""

    VENTILATION_BLOCKED = "ventilation_blocked"
    OVERFILLED = "overfilled"
    WORN_RINGS = "worn_rings"
    HARDENED_SEALS = "hardened_seals"
    WRONG_SEALANT = "wrong_sealant"
    SHAFT_WORN = "shaft_worn"
    OVERHEATED = "overheated"
    FASTENERS_LOOSE = "fasteners_loose"
    FASTENER_TOO_LONG = "fastener_too_long"
    OVERTIGHTENED = "overtightened"
    GASKET_ROLLED = "gasket_rolled"
    DRAIN_BACK_BLOCKED = "drain_back_blocked"
    CORRODED = "corroded"


class Cause(Record):
    """A shared cause and the seal points it raises.

    Without a list, a cause of pressure or of ageing raises every seal point of its fluid
    that feels it; of its fluid, a worn shaft raises the shaft and rod seals, wrong sealant
    the sealant joints and moulded gaskets, a rolled gasket the gaskets and rings that are
    hard to get at, overtightening the plugs and washers, corrosion the walls and core plugs,
    and a blocked drain-back the splashed joints in the upper half of the case.  Loose or
    overlong fasteners need a list.
    """

    id: Identifier
    kind: CauseKind
    fluid: Identifier | None = None
    raises: tuple[Identifier, ...] = ()


class AccessStep(Record):
    """Something to take off, lift or open before a zone or seal can be reached."""

    id: Identifier
    name: Text | None = None
    minutes: Positive
    after: tuple[Identifier, ...] = ()
    cautions: tuple[Text, ...] = ()
    torque_Nm: Torque = None
    torque_from: TorqueFrom = None
    one_use: OneUse = ()
    refit: Text | None = Field(default=None, description="how to put it back, as a sentence")


class Method(StrEnum):
    """How an inspection looks."""

    EYES = "eyes"
    MIRROR = "mirror"
    BORESCOPE = "borescope"
    WIPE = "wipe"
    FINGER = "finger"
    SMELL = "smell"
    DYE_LAMP = "dye_lamp"
    POWDER = "powder"
    SOAPY_WATER = "soapy_water"
    PRESSURE_TEST = "pressure_test"
    CASE_PRESSURE = "case_pressure"
    LEVEL_CHECK = "level_check"
    WASH_AND_RUN = "wash_and_run"
    TORQUE_CHECK = "torque_check"
    GROUND_SHEET = "ground_sheet"


class SignKind(StrEnum):
    """Whole-machine signs."""

    LEVEL_FALLS = "level_falls"
    LEVEL_RISES = "level_rises"
    PRESSURE_LOSS = "pressure_loss"
    GROUND_WET = "ground_wet"
    SMOKE = "smoke"
    BURNT_SMELL = "burnt_smell"
    FUEL_SMELL = "fuel_smell"
    FLUID_THINNED = "fluid_thinned"
    FLUID_EMULSIFIED = "fluid_emulsified"
    LEAKS_COLD_START = "leaks_cold_start"
    LEAKS_HOT_IDLE = "leaks_hot_idle"
    LEAKS_AT_SPEED = "leaks_at_speed"
    LEAKS_AT_REST = "leaks_at_rest"


class Reads(Record):
    """What an inspection yields."""

    zones: tuple[Identifier, ...] = ()
    seal_points: tuple[Identifier, ...] = ()
    signs: tuple[SignKind, ...] = ()
    fluid: Identifier | None = Field(
        default=None, description="of the signs; without it, the machine's first fluid"
    )


class Inspection(Record):
    """A way to get readings, and what it costs and spoils."""

    id: Identifier
    name: Text | None = None
    method: Method = Method.EYES
    reads: Reads
    minutes: Positive
    access: tuple[Identifier, ...] = ()
    state: tuple[MachineState, ...] = (MachineState.ANY,)
    miss: Probability | None = Field(default=None, description="chance a wet film is not seen")
    false_call: Probability | None = Field(default=None, description="chance dry is called wet")
    destroys: tuple[Literal["residue", "dye", "joint", "level"], ...] = ()
    cautions: tuple[Text, ...] = ()


class Stand(Record):
    """A way the machine is known to stand; a job may name it."""

    id: Identifier
    name: Text | None = None
    pitch_deg: Annotated[float, Field(ge=-90, le=90, allow_inf_nan=False)] = Field(
        default=0.0, description="nose up positive"
    )
    roll_deg: Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)] = Field(
        default=0.0, description="left side up positive (leaning to the right)"
    )


class Machine(Record):
    """One machine: what fluid can run over, and what can let fluid out."""

    format: Literal["leakdx-machine/1"]
    id: Identifier
    version: Annotated[str, StringConstraints(pattern=r"^[0-9]+(\.[0-9]+){0,2}$")]
    name: Text
    note: str = ""
    fluids: Annotated[tuple[Fluid, ...], Field(min_length=1)]
    zones: Annotated[tuple[Zone, ...], Field(min_length=1)]
    neighbours: tuple[Neighbour, ...] | None = Field(
        default=None, description="without it, patches whose boxes touch are neighbours"
    )
    paths: tuple[DrawnPath, ...] = ()
    seal_points: Annotated[tuple[SealPoint, ...], Field(min_length=1)]
    causes: tuple[Cause, ...] = ()
    access_steps: tuple[AccessStep, ...] = ()
    inspections: tuple[Inspection, ...] = ()
    stands: tuple[Stand, ...] = ()
