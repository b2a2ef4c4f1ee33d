"""The strip-down and refit sheet as one HTML page to print on A4: nothing is fetched for it.

Every piece of text goes through ``_tag``, which escapes whatever is not markup made here.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from leakdx.advice.sheet import INSIDE, MAKER_FIRST, Joint, Sheet
from leakdx.advice.sheet_steps import Refit, Step
from leakdx.advice.sheet_text import (
    INVENTED,
    REACHED,
    SHOWN,
    TICKED,
    TITLES,
    joint_parts,
    reached_rest,
    refit_said,
    times_said,
)
from leakdx.advice.words import percent

_STYLE = """
@page { size: A4; margin: 14mm 15mm 16mm; }
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 10mm 6mm; max-width: 186mm; background: #fff; color: #1a1a1a;
  font: 10.5pt/1.42 "Helvetica Neue", Arial, "Liberation Sans", sans-serif; }
header { border-bottom: 1.6pt solid #1a1a1a; padding-bottom: 3mm; }
h1 { font-size: 17pt; line-height: 1.2; margin: 0 0 1mm; }
h2 { font-size: 12.5pt; margin: 7mm 0 2mm; padding-bottom: .8mm; border-bottom: .6pt solid #777;
  break-after: avoid; }
h2 b { display: inline-block; min-width: 7mm; color: #14507a; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; break-after: avoid; }
h4 { font-size: 9.5pt; margin: 0 0 .5mm; color: #14507a; break-after: avoid; }
p { margin: 1.5mm 0; }
ul, ol { margin: 1mm 0; padding-left: 6mm; }
li { margin: .7mm 0; break-inside: avoid; }
.quiet { color: #4a4a4a; font-size: 9.5pt; }
.first { border: .9pt solid #1a1a1a; padding: 2mm 3mm; font-weight: bold; break-inside: avoid; }
.care { background: #fff4d6; border-left: 2.2mm solid #c77700; padding: 1.5mm 3mm;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.care ul { margin: 0; padding-left: 4.5mm; }
.joint { border: .6pt solid #999; border-radius: 1mm; padding: 0 4mm 2mm; margin: 3mm 0; }
.two { columns: 2; column-gap: 8mm; }
.two section { break-inside: avoid; padding-top: 1.5mm; }
ul.ticks, ol.ticks { list-style: none; padding-left: 0; }
.ticks > li { position: relative; padding-left: 7mm; }
.ticks > li > input { position: absolute; left: 0; top: .55mm; width: 4mm; height: 4mm; margin: 0;
  appearance: none; -webkit-appearance: none; border: .9pt solid #1a1a1a; background: #fff; }
.ticks > li > input:checked { background: #14507a; box-shadow: inset 0 0 0 .7mm #fff; }
ol.ticks > li { padding-left: 13mm; }
.n { position: absolute; left: 5mm; width: 6mm; text-align: right; font-weight: bold; }
.warn { display: block; color: #8a4b00; font-size: 9.5pt; }
.warn::before { content: "! "; font-weight: bold; }
.part { display: block; font-size: 9.5pt; }
table { border-collapse: collapse; width: 100%; margin: 1.5mm 0; }
td, th { text-align: left; padding: .9mm 2mm .9mm 0; border-bottom: .4pt solid #bbb;
  vertical-align: top; }
td.r, th.r { text-align: right; white-space: nowrap; padding-right: 0; }
tr { break-inside: avoid; }
pre { background: #f2f2f2; padding: 2mm 3mm; margin: 1.5mm 0; overflow-wrap: anywhere;
  white-space: pre-wrap; font: 9pt/1.45 "Liberation Mono", Menlo, Consolas, monospace;
  break-inside: avoid; }
footer { margin-top: 8mm; border-top: .6pt solid #777; padding-top: 3mm; break-inside: avoid; }
footer span { display: inline-block; min-width: 58mm; margin: 5mm 5mm 0 0;
  border-top: .6pt solid #1a1a1a; font-size: 9pt; }
@media print { body { padding: 0; max-width: none; } }
@media (max-width: 600px) { .two { columns: 1; } }
"""


class _Markup(str):
    """Text that is HTML already."""

    __slots__ = ()


def _text(piece: str) -> str:
    return piece if isinstance(piece, _Markup) else escape(piece)


def _tag(name: str, *pieces: str, of: str = "") -> _Markup:
    """An element; of: its class.  What is not markup is escaped."""
    kind = f' class="{escape(of)}"' if of else ""
    return _Markup(f"<{name}{kind}>{''.join(map(_text, pieces))}</{name}>")


def _joined(pieces: Iterable[str]) -> _Markup:
    return _Markup("".join(map(_text, pieces)))


def _list(texts: Iterable[str]) -> _Markup:
    return _tag("ul", *(_tag("li", t) for t in texts))


def _care(texts: Iterable[str]) -> _Markup:
    return _tag("div", _list(texts), of="care")


_BOX = _Markup('<input type="checkbox" aria-label="done">')


def _ticks(texts: Iterable[str]) -> _Markup:
    return _tag("ul", *(_tag("li", _BOX, t) for t in texts), of="ticks")


def sheet_html(sheet: Sheet) -> str:
    """The sheet as a page."""
    title = f"Strip down and refit: {sheet.job_name}"
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"{_tag('title', title)}\n<style>{_STYLE}</style>\n</head>\n"
        f"<body>\n{_body(sheet, title)}\n</body>\n</html>\n"
    )


def _body(sheet: Sheet, title: str) -> str:
    on = f"Job {sheet.job}, machine {sheet.machine}: {sheet.machine_name}"
    pieces = [_tag("header", _tag("h1", title), _tag("p", on, of="quiet"))]
    pieces.append(_tag("p", sheet.sentence))
    if not sheet.joints:
        return "\n".join(pieces)
    pieces.append(_tag("p", MAKER_FIRST, of="first"))
    if sheet.invented:
        pieces.append(_tag("p", INVENTED, of="quiet"))
    parts = (_head, _before, _strip, _joints, _checks, _refit, _run)
    for number, (heading, part) in enumerate(zip(TITLES, parts, strict=True), start=1):
        pieces.append(_tag("h2", _tag("b", str(number)), heading))
        pieces.append(part(sheet))
    signed = ("Name", "Date", "Hours or distance on the machine")
    pieces.append(_tag("footer", *(_tag("span", s) for s in signed)))
    return "\n".join(pieces)


def _head(sheet: Sheet) -> _Markup:
    rows = [_tag("tr", _tag("th", "seal point"), _tag("th", "leaks", of="r"))]
    for c in sheet.renew:
        more = _tag("span", " with the rest of its gasket", of="quiet") if c.added else ""
        rows.append(_tag("tr", _tag("td", c.name, more), _tag("td", percent(c.leaks), of="r")))
    rest = _tag("td", _tag("b", "Nothing else leaks then"))
    rows.append(_tag("tr", rest, _tag("td", _tag("b", percent(sheet.dry)), of="r")))
    return _joined([_tag("table", *rows), _tag("p", times_said(sheet))])


def _before(sheet: Sheet) -> _Markup:
    pieces = [_care(sheet.cautions), _tag("h3", "Have ready"), _ticks(sheet.parts)]
    if sheet.fluids:
        pieces += [_tag("h3", "Fluids"), _list(sheet.fluids)]
    return _joined(pieces)


def _strip(sheet: Sheet) -> _Markup:
    pieces = []
    if sheet.off:
        pieces.append(_tag("p", f"Off already: {'; '.join(sheet.off)}.", of="quiet"))
    if sheet.steps:
        pieces.append(_tag("ol", *map(_step, sheet.steps), of="ticks"))
    else:
        pieces.append(_tag("p", "Nothing is left to take off."))
    if sheet.reached:
        rows = [
            _tag("tr", _tag("td", c.name), _tag("td", percent(c.leaks), of="r"))
            for c in sheet.reached[:SHOWN]
        ]
        pieces += [_tag("p", REACHED), _tag("table", *rows)]
        pieces.append(_tag("p", reached_rest(sheet) or "", of="quiet"))
    return _joined(pieces)


def _numbered(number: int, *pieces: str) -> _Markup:
    return _tag("li", _BOX, _tag("span", str(number), of="n"), *pieces)


def _step(step: Step) -> _Markup:
    minutes = _tag("span", f" {step.minutes:g} min", of="quiet")
    warnings = (_tag("span", c, of="warn") for c in step.cautions)
    return _numbered(step.number, step.name, minutes, *warnings)


def _joints(sheet: Sheet) -> _Markup:
    return _joined(_joint(joint) for joint in sheet.joints)


def _joint(joint: Joint) -> _Markup:
    kind = _tag("span", f" {joint.kind_said}", of="quiet")
    parts = (
        _tag("section", _tag("h4", title), _list(texts)) for title, texts in joint_parts(joint)
    )
    return _tag("div", _tag("h3", joint.name, kind), _tag("div", *parts, of="two"), of="joint")


def _checks(sheet: Sheet) -> _Markup:
    pieces = []
    for check in sheet.checks:
        boxes = (_joined([_tag("b", f"{word}: "), said]) for word, said in check.boxes)
        pieces += [_tag("h3", check.name), _ticks(boxes)]
    pieces += [_tag("h3", "All of them"), _ticks([INSIDE]), _tag("p", TICKED)]
    records = "\n".join(r for check in sheet.checks for r in check.records)
    return _joined([*pieces, _tag("pre", records)])


def _refit(sheet: Sheet) -> _Markup:
    lines = (_back(number, r) for number, r in enumerate(sheet.refit, start=1))
    return _tag("ol", *lines, of="ticks")


def _back(number: int, refit: Refit) -> _Markup:
    parts = (_tag("span", f"New each time: {part}.", of="part") for part in refit.one_use)
    return _numbered(number, refit_said(refit), *parts)


def _run(sheet: Sheet) -> _Markup:
    return _joined([_care(sheet.run_cautions), _ticks(sheet.wash_and_run)])
