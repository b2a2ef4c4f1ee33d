"""What is done at a seal point of each kind: taking out, looking, refitting.

Common practice, no source.  The maker's procedure comes before any line of it.
"""

from __future__ import annotations

from dataclasses import dataclass

from leakdx.machine.model import SealKind

CLEAN = (
    "Clean both faces to bare metal with a plastic scraper and a lint-free rag; stuff openings "
    "first, so that no scrapings get inside, and wipe the last of it with solvent on the rag."
)
EDGE = "Lay a straight edge over both faces: bent flange, drawn-up metal round the holes, scratches"
NO_SEALANT = "Fit it dry: no sealant on it unless the maker says so, then only at the stated spots"


@dataclass(frozen=True)
class Practice:
    """One kind of joint, as sentences.  part: what has to be new, None where nothing has.

    look: what to look at once it is apart.  found: what speaks for a fault found there; where
    none of it is seen, the leak may come from elsewhere.  refit: in order, before the torque.
    """

    part: str | None
    take_out: tuple[str, ...]
    look: tuple[str, ...]
    found: tuple[str, ...]
    refit: tuple[str, ...]


def practice_of(kind: SealKind) -> Practice:
    """What is done at a seal point of this kind."""
    return _BY_KIND[kind]


_BY_KIND: dict[SealKind, Practice] = {
    SealKind.FLAT_GASKET: Practice(
        "flat gasket",
        ("Loosen the fasteners evenly, part the joint without prying on its faces.", CLEAN),
        (f"{EDGE}.", "Look at the old gasket on both sides, at the spot that was wet."),
        ("a track of oil or dirt right across the gasket", "torn, crushed out or brittle gasket"),
        (
            "Hold the new gasket to the joint: every hole and passage must match.",
            f"{NO_SEALANT}.",
            "Start all fasteners by hand, then tighten in order from the middle outwards.",
        ),
    ),
    SealKind.MOULDED_GASKET: Practice(
        "moulded gasket",
        (
            "Loosen the fasteners evenly, lift straight up; pull the old gasket out of its groove.",
            CLEAN,
            "Clean the groove to its bottom; old sealant left in it lifts the new gasket.",
        ),
        (
            "Look at the cover: bent, cracked or warped; sleeves and collars of its screws there?",
            "Look along the old gasket for flat, hard, cut or rolled stretches.",
        ),
        (
            "a stretch rolled out of its groove, most often at a corner nobody can see",
            "hard and flat: it keeps its pressed shape when bent",
            "sealant on it, or a screw that was loose",
        ),
        (
            "Press the new gasket into its groove all round; it must stay when the cover is turned "
            "over.",
            "No sealant on it unless the maker says so, and then only a dab where two parts "
            "meet underneath or at a half-round.",
            "Lower the cover straight; do not slide it. Start all screws by hand.",
        ),
    ),
    SealKind.SEALANT_JOINT: Practice(
        "liquid sealant of the kind the maker states",
        (
            "Part the joint at the lugs meant for it; a blade driven in scores the faces.",
            CLEAN,
            "Blow nothing in: crumbs of sealant block screens and oilways. Lift and wipe them out.",
        ),
        (f"{EDGE}.", "Look at the old bead: gaps, thin spots, places where it never took."),
        ("a gap or a thin spot in the bead", "a face that was oily when it was closed"),
        (
            "Degrease both faces until a white rag stays white, and let them dry.",
            "Lay one unbroken bead of the stated width, inside of the screw holes and round them.",
            "Close it within the time on the tube, straight down, without sliding.",
            "Let it cure as long as the tube says before fluid goes in and before it runs.",
        ),
    ),
    SealKind.HEAD_GASKET: Practice(
        "head gasket, and head bolts where the maker says so",
        (
            "Loosen the bolts in reverse of the tightening order, in stages, on a cold engine.",
            CLEAN,
            "Suck fluid out of the bolt holes: a bolt on trapped fluid cracks the block.",
        ),
        (
            "Measure head and block for flatness with a straight edge and feelers, lengthwise, "
            "across and on both diagonals; the maker states the limit.",
            "Look at the gasket for a track from a passage to the edge.",
        ),
        ("a track of fluid to the edge", "a warped face", "a bolt that was loose or stretched"),
        (
            "Fit the gasket dry, the right way up, on its dowels.",
            "Measure the bolts or take new ones; oil threads only where the maker says so.",
            "Tighten in the maker's order and stages, angles included.",
        ),
    ),
    SealKind.O_RING: Practice(
        "O-ring",
        (
            "Draw the part out straight; lift the old ring with a blunt pick of plastic or brass.",
            "Clean groove and bore; a scratch by the pick across the groove leaks for ever.",
        ),
        (
            "Look at groove and bore with a lamp for scratches, corrosion and sharp edges.",
            "Look at the old ring: flat, hard, cut, swollen, twisted.",
        ),
        (
            "a ring pressed flat on both sides",
            "a cut, or a shaving off it: it was pushed over an edge",
            "corrosion or a scratch across the sealing line",
        ),
        (
            "Compare the new ring with the old: thickness, width and material for this fluid.",
            "Oil the ring with the fluid it seals, lay it in without twisting or rolling it.",
            "Push the part home straight by hand; never draw it in with its screws.",
        ),
    ),
    SealKind.SHAFT_LIP_SEAL: Practice(
        "shaft seal",
        (
            "Measure how deep the old seal sits, then draw it out without touching shaft or bore.",
            "Clean bore and shaft; take off any burr.",
        ),
        (
            "Draw a fingernail along the shaft where the lip ran: a groove that it feels is too "
            "deep.",
            "Feel the shaft for play, look at the bore for scratches, see that the ventilation of "
            "the case is clear.",
        ),
        (
            "a groove in the shaft: set the new seal a little deeper or shallower if the maker "
            "allows, or fit a sleeve",
            "a hard or cracked lip, a lost spring",
            "play of the shaft, or pressure in the case: a new seal alone will not last",
        ),
        (
            "Oil the lip and the shaft with the fluid it seals (a seal that the maker fits dry "
            "stays dry).",
            "Cover keyways and splines with a sleeve or tape so that they do not cut the lip.",
            "Drive it in square with a ring that bears on its rim, to the depth it had: seated "
            "square all round, the lip towards the fluid, its spring still there.",
        ),
    ),
    SealKind.ROD_SEAL: Practice(
        "seal kit of the cylinder",
        (
            "Let all pressure off and secure the load before anything is opened.",
            "Mark the direction of every lip; lift the rings with a blunt pick.",
        ),
        ("Look along the rod and the bore for scores, pitting and bends.",),
        ("a score or pit in the rod under the seal", "a hard, cut or reversed lip"),
        (
            "Oil lips and rod with the fluid it seals; brake parts only with brake fluid.",
            "Guide the lips over threads with a sleeve; lips towards the pressure.",
            "Bleed the system and try it at low pressure first.",
        ),
    ),
    SealKind.THREADED_PLUG: Practice(
        "plug, or the thread sealant the maker states",
        ("Clean round it, then unscrew it; drain first if fluid stands behind it.",),
        ("Look at both threads and at the seat: torn, crossed, cracked boss.",),
        ("a thread that was dry or half tight", "a crack in the boss, a torn thread"),
        (
            "Clean and dry both threads; sealant on the plug's thread only, none on its first "
            "two turns.",
            "Start it by hand for some turns. A tapered plug seals by its thread: do not force it.",
        ),
    ),
    SealKind.BONDED_WASHER: Practice(
        "bonded washer",
        ("Clean round it, unscrew, take the washer off.",),
        ("Look at the seat and at the rubber lip of the washer.",),
        ("a rubber lip pressed out or torn", "a scratch across the seat"),
        ("Fit a new bonded washer, centred on the thread, both faces clean and dry.",),
    ),
    SealKind.CRUSH_WASHER: Practice(
        "crush washer",
        (
            "Clean round it, unscrew it, and see that the old washer came off too: two on top of "
            "each other leak.",
        ),
        ("Look at both seats and at the thread.",),
        ("a washer that was used twice: a ridge on both its faces", "a scratch across the seat"),
        ("Fit a new washer every time; a soft copper one dry on clean seats.",),
    ),
    SealKind.PIPE_UNION: Practice(
        "washers, or the olive or cone where it is marked",
        (
            "Let the pressure off first. Clean round the union, then hold its body with a second "
            "spanner while the nut is loosened.",
            "Close both ends at once with clean caps.",
        ),
        ("Look at cone and seat for a step or a scratch, and see that the pipe lies free.",),
        ("a nut that was loose", "a marked cone", "a pipe under strain or chafed"),
        (
            "Line the pipe up by hand until the nut runs freely for its whole thread.",
            "Tighten while the body is held with a second spanner; a union that weeps is not "
            "cured by more force.",
        ),
    ),
    SealKind.HOSE_END: Practice(
        "hose or clip where it is worn",
        (
            "Let the pressure off. Slide the clip back, turn the hose to free it and push it off.",
            "A hose that sticks is slit lengthwise with a knife rather than levered: a plastic "
            "barb breaks.",
        ),
        (
            "Look at the barb: corrosion, a bead of old rubber, cracks in plastic.",
            "Bend the end of the hose and look for splits and for a soft, swollen or hard wall.",
        ),
        ("a split end", "a clip that is slack, too large, or sat on the edge of the barb"),
        (
            "A split end may be shortened by a few mm where the hose is long enough: better than "
            "breaking a plastic barb by forcing an old end off or on. Soft all along: new hose.",
            "Push it fully home, the clip square behind the bead of the barb.",
        ),
    ),
    SealKind.HOSE_CRIMP: Practice(
        "hose with its fittings",
        ("Let all pressure off. Unscrew both ends with two spanners, close the ports.",),
        ("Look for chafing, blisters, rust at the crimp and how the hose was laid.",),
        ("wet or rusty at the rim of the crimp", "a hose that was twisted, pulled or bent short"),
        (
            "Renew the hose whole; a crimp is never tightened.",
            "Lay it without twist, free of edges and heat, with slack for every movement.",
        ),
    ),
    SealKind.CORE_PLUG: Practice(
        "core plug",
        (
            "Drain the system. Drive one edge of the plug in, turn it and draw it out with pliers; "
            "never lose it inside.",
            "Clean the bore to bare metal.",
        ),
        ("Look at the bore and at the back of the plug for rust and pits.",),
        ("rusted through from behind: the others are as old", "a pitted bore"),
        ("A thin film of the stated sealant on the edge; drive it in square to the depth it had.",),
    ),
    SealKind.SENDER: Practice(
        "sender or its washer",
        ("Unplug it, clean round it, unscrew it with a socket that clears the connector.",),
        ("Look for fluid inside the connector: then it leaks through itself.",),
        ("fluid between the pins of the connector", "a washer used twice, a dry thread"),
        (
            "New washer, or thread sealant where the maker states it: one that earths through its "
            "thread needs bare metal.",
        ),
    ),
    SealKind.TUBE_BASE: Practice(
        "ring at the foot of the tube",
        ("Undo the bracket, turn the tube to free it and draw it straight out.",),
        ("Look at the foot and the bore for rust and cracks.",),
        ("a loose bracket: the tube has worked", "a hard ring, a cracked foot"),
        ("Oil the new ring, push the tube fully home, then fasten the bracket without strain.",),
    ),
    SealKind.HEAT_EXCHANGER_CORE: Practice(
        "heat exchanger",
        ("Drain both sides. Take it off whole.",),
        ("Close one side, try the other under water with low air pressure, as the maker states.",),
        ("bubbles from the other side", "one fluid in the other"),
        (
            "Fit a new one with new rings; a leaking core is not repaired.",
            "Flush what the wrong fluid got into, and renew both fluids and the filter.",
        ),
    ),
    SealKind.CASTING_CRACK: Practice(
        "the part itself, or the repair the maker allows",
        ("Clean the place to bare metal and dry it.",),
        ("Find both ends of the crack with dye penetrant.",),
        ("a line that draws the dye out again",),
        ("Renew the part, or repair it only in a way that the maker allows for this place.",),
    ),
    SealKind.CASTING_POROSITY: Practice(
        "the part itself, or the repair the maker allows",
        ("Clean the place to bare metal, degrease it and dry it.",),
        ("Watch it with a lamp while the system is under its own pressure.",),
        ("fluid that comes out of sound metal, with no joint above it",),
        ("Seal it or renew the part only in a way that the maker allows for this place.",),
    ),
    SealKind.WELD: Practice(
        "the repair the maker allows",
        ("Empty it, clean the seam to bare metal.",),
        ("Look along the seam with dye penetrant.",),
        ("a line along the edge of the seam, most often at its end",),
        (
            "Weld again only where the maker allows it, emptied, flushed of all that burns, by "
            "someone trained for it; battery and control units disconnected.",
        ),
    ),
    SealKind.CORRODED_WALL: Practice(
        "the part itself",
        ("Empty it, take it off, clean it to bare metal.",),
        ("Tap and press round the hole: the sound wall begins further out than it looks.",),
        ("rust through the wall, thin metal round it",),
        ("Renew the part, and find out what kept it wet.",),
    ),
    SealKind.OPEN_HOLE: Practice(
        "plug or grommet that belongs there",
        ("Clean round it.",),
        ("Look for the thread, seat or rim of what belongs there.",),
        ("a clean rim where something sat",),
        ("Fit what belongs there; see first that it is no drain or weep hole, which stays open.",),
    ),
    SealKind.BREATHER: Practice(
        None,
        ("Take it off, clean it, see that its way is clear through to the end.",),
        ("Set the fluid level first: an overfilled case breathes fluid out.",),
        ("a blocked way, a stuck valve, a level too high",),
        ("Fit it the right way up; its hose must not sag, kink or freeze shut.",),
    ),
}
