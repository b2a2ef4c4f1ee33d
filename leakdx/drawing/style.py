"""Colours and lines of a drawing, for light and for dark screens."""

from __future__ import annotations

from leakdx.flow.courses import Way

# Light, dark.  Text is at least 4.5 to 1 on all it may lie on (a test works it out).
PAPER = ("#ffffff", "#12171d")
INK = ("#16202a", "#e9eef3")
QUIET = ("#46535f", "#b4c0cb")
# Zones from the back to the front of a view.
LAYERS = (("#dfe5ea", "#1b242d"), ("#e9eef2", "#26313c"), ("#f4f7f9", "#323f4b"))
ZONE_LINE = ("#5d6b78", "#8897a5")
SHADES = (
    ("#dcebf7", "#22394e"),
    ("#bfdcf2", "#264a69"),
    ("#9fcaec", "#2a5a82"),
    ("#7fb6e4", "#2d6796"),
)
WAYS = {
    Way.RUN: ("#0a5299", "#6db3f2"),
    Way.DRIP: ("#7a2f9c", "#d29bea"),
    Way.CARRY: ("#8a4b00", "#f0b35e"),
    Way.FLING: ("#b3201a", "#ff938c"),
    Way.WICK: ("#1f6b2c", "#7ed08c"),
}
FLUIDS = (
    ("#3b2a1a", "#f2c99a"),
    ("#0b4f3f", "#8fe3cb"),
    ("#7a1fa0", "#e3b1f5"),
    ("#8c1d18", "#ffb4ab"),
    ("#123f7a", "#a9cdf7"),
    ("#4a4a00", "#e2e27a"),
    ("#333333", "#dddddd"),
    ("#6b2f00", "#ffc49a"),
)
FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', Arial, sans-serif"


def dashes(way: Way, width: float) -> str | None:
    """The pattern of a line; None where it is unbroken."""
    match way:
        case Way.DRIP:
            return f"{4 + 1.6 * width:.1f} {2.5 + 1.2 * width:.1f}"
        case Way.CARRY:
            return f"0.1 {2.4 + 1.5 * width:.1f}"
        case Way.FLING:
            return f"{6 + 2 * width:.1f} {2 + 1.2 * width:.1f} 0.1 {2 + 1.2 * width:.1f}"
        case _:
            return None


def css() -> str:
    """The style sheet."""
    light, dark = _rules(0), _rules(1)
    return (
        f".ldx text{{font-family:{FONT}}}\n{light}\n"
        f"@media (prefers-color-scheme: dark){{\n{dark}\n}}"
    )


def _rules(n: int) -> str:
    rules = [
        f".ldx .paper{{fill:{PAPER[n]}}}",
        f".ldx text{{fill:{INK[n]}}}",
        f".ldx .quiet{{fill:{QUIET[n]}}}",
        f".ldx .line{{stroke:{INK[n]};fill:none}}",
        f".ldx .tip{{fill:{INK[n]}}}",
        f".ldx .rule{{stroke:{QUIET[n]};fill:none}}",
        f".ldx .zone{{stroke:{ZONE_LINE[n]}}}",
        f".ldx .ghost{{fill:none;stroke:{ZONE_LINE[n]}}}",
        f".ldx .hatch{{stroke:{ZONE_LINE[n]}}}",
        f".ldx .halo{{stroke:{PAPER[n]};fill:none}}",
        f".ldx .on{{stroke:{LAYERS[1][n]}}}",
        f".ldx .core{{stroke:{PAPER[n]};fill:none}}",
        f".ldx .number{{fill:{PAPER[n]}}}",
    ]
    rules += [f".ldx .layer{k}{{fill:{c[n]}}}" for k, c in enumerate(LAYERS)]
    rules += [f".ldx .shade{k}{{fill:{c[n]}}}" for k, c in enumerate(SHADES, 1)]
    for way, colours in WAYS.items():
        rules.append(f".ldx .{way}{{stroke:{colours[n]};fill:none}}")
        rules.append(f".ldx .{way}-tip{{fill:{colours[n]}}}")
    for k, colours in enumerate(FLUIDS):
        rules.append(f".ldx .f{k}{{fill:{colours[n]};stroke:{PAPER[n]}}}")
        rules.append(f".ldx .u{k}{{fill:{PAPER[n]};stroke:{colours[n]}}}")
        rules.append(f".ldx text.un{k}{{fill:{colours[n]}}}")
    return "\n".join(rules)
