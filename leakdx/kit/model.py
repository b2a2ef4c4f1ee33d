"""Parts, layouts that place them, and builds: one machine chosen from a layout.

A part has its own frame: x forward, y left, z up, in mm, wherever it stands later.  A layout
joins parts mount to mount; a build chooses the options of a layout and changes a few lines.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from leakdx.machine.model import (
    AccessStep,
    Box,
    Cause,
    DrawnPath,
    Fluid,
    Identifier,
    Inspection,
    NotNegative,
    Number,
    Positive,
    Probability,
    Record,
    SealPoint,
    Stand,
    Surface,
    Text,
    Turn,
    Vector,
)

PART_FORMAT = "leakdx-part/1"
LAYOUT_FORMAT = "leakdx-layout/1"
BUILD_FORMAT = "leakdx-build/1"

Version = Annotated[str, StringConstraints(pattern=r"^[0-9]+(\.[0-9]+){0,2}$")]
Side = Literal["x", "y", "z"]
# Truth values first: a yes in a file is no number.
Choice = bool | int | Identifier


class PartZone(Record):
    """A zone in the frame of its part; middle and area follow from the box where not given."""

    id: Identifier
    name: Text | None = None
    bbox_mm: Box
    normal: Vector
    turn: Turn | None = None
    centroid_mm: Vector | None = None
    area_mm2: Positive | None = None
    surface: Surface = Surface.CAST_METAL
    holds_ml: NotNegative = 0.0
    airflow_exposure: Probability | None = None
    temperature_C: Number | None = None
    hidden: bool = False
    spins: Positive | None = None
    spin_axis: Vector = (1.0, 0.0, 0.0)


class Mount(Record):
    """A place by which a part is joined to another, in the frame of the part."""

    id: Identifier
    at_mm: Vector
    turn: Turn | None = Field(default=None, description="how what stands here is turned")


class Contents(Record):
    """What a part brings, or what a layout adds."""

    zones: tuple[PartZone, ...] = ()
    paths: tuple[DrawnPath, ...] = ()
    seal_points: tuple[SealPoint, ...] = ()
    causes: tuple[Cause, ...] = ()
    access_steps: tuple[AccessStep, ...] = ()
    inspections: tuple[Inspection, ...] = ()


class Part(Contents):
    """A piece of a machine with its surfaces, seal points, access, inspections and causes.

    ``fluids`` are the names it calls its fluids by; a layout says which fluid of the machine
    each one is.  ``ways_in`` are stand-ins for access steps that other parts bring.
    """

    format: Literal["leakdx-part/1"]
    id: Identifier
    version: Version
    name: Text
    note: str = ""
    fluids: Annotated[tuple[Identifier, ...], Field(min_length=1)]
    solid_mm: tuple[Box, ...] = Field(
        default=(), description="boxes that no other part may enter, in the frame of the part"
    )
    stretches: tuple[Side, ...] = Field(
        default=(), description="the axes along which a layout may stretch it"
    )
    mounts: tuple[Mount, ...] = ()
    ways_in: dict[Identifier, Text] = Field(
        default_factory=dict, description="ways to reach it that the layout must bind to steps"
    )


class Option(Record):
    """Something to choose about a layout."""

    id: Identifier
    ask: Text
    choices: Annotated[tuple[Choice, ...], Field(min_length=2)]
    usual: Choice


class Joined(Record):
    """The part, and the mount on it, that another part is joined to."""

    part: Identifier = Field(description="the id of its placement in this layout")
    mount: Identifier


class Per(Record):
    """A number chosen by an option, over the number the part was drawn for."""

    option: Identifier
    drawn_for: Positive


class Repeat(Record):
    """The same part again and again, in steps; ids get _1, _2 and so on."""

    count: Annotated[int, Field(ge=1, le=32)] | Identifier = Field(
        description="a number, or the option that holds it"
    )
    step_mm: Vector
    first: Annotated[int, Field(ge=0)] = 1


class Placement(Record):
    """One part in its place."""

    part: Identifier
    id: Identifier | None = Field(default=None, description="without it, the id of the part")
    prefix: Identifier | None = Field(default=None, description="put before each id it brings")
    called: Text | None = Field(default=None, description="put after each name it brings")
    onto: Joined | None = Field(default=None, description="only one part stands on nothing")
    by: Identifier | None = Field(
        default=None, description="its own mount that is joined; without it, its origin"
    )
    at_mm: Vector = Field(default=(0.0, 0.0, 0.0), description="away from what it is joined to")
    turn: Turn | None = None
    mirror: Side | None = Field(
        default=None, description="the axis turned over; the words for the sides change places"
    )
    stretch: dict[Side, Positive | Per] = Field(default_factory=dict)
    repeat: Repeat | None = None
    when: dict[Identifier, Choice | tuple[Choice, ...]] = Field(
        default_factory=dict, description="the options under which it is there"
    )
    fluids: dict[Identifier, Identifier] = Field(
        default_factory=dict, description="fluid of the part -> fluid of the machine"
    )
    ways_in: dict[Identifier, tuple[Identifier, ...]] = Field(default_factory=dict)


class Own(Contents):
    """What a layout or a build adds, in the frame of one placed part or of the layout."""

    of: Identifier | None = Field(
        default=None, description="placement in whose frame the numbers are"
    )
    when: dict[Identifier, Choice | tuple[Choice, ...]] = Field(default_factory=dict)


class Changes(Record):
    """Fields of entries to change, by list; each entry names its id and the fields."""

    fluids: tuple[dict[str, Any], ...] = ()
    zones: tuple[dict[str, Any], ...] = ()
    seal_points: tuple[dict[str, Any], ...] = ()
    causes: tuple[dict[str, Any], ...] = ()
    access_steps: tuple[dict[str, Any], ...] = ()
    inspections: tuple[dict[str, Any], ...] = ()


class Layout(Record):
    """Parts in their places, and what is asked before one is built."""

    format: Literal["leakdx-layout/1"]
    id: Identifier
    version: Version
    name: Text
    note: str = ""
    down: Vector = Field(description="where fluid falls as the machine stands, usually [0, 0, -1]")
    fluids: Annotated[tuple[Fluid, ...], Field(min_length=1)]
    options: tuple[Option, ...] = ()
    stands: tuple[Stand, ...] = ()
    parts: Annotated[tuple[Placement, ...], Field(min_length=1)]
    own: tuple[Own, ...] = ()
    without: tuple[Identifier, ...] = Field(
        default=(), description="ids that parts bring and this layout lacks"
    )
    changes: Changes = Changes()


class LayoutReference(Record):
    """The layout that a build is of."""

    id: Identifier
    version: str
    file: str | None = Field(
        default=None, description="path beside the build file; without it, a shipped layout"
    )


class Build(Record):
    """One machine: a layout, the choices, and what is different about it."""

    format: Literal["leakdx-build/1"]
    id: Identifier
    version: Version
    name: Text
    note: str = ""
    layout: LayoutReference
    options: dict[Identifier, Choice] = Field(default_factory=dict)
    own: tuple[Own, ...] = ()
    without: tuple[Identifier, ...] = ()
    changes: Changes = Changes()
