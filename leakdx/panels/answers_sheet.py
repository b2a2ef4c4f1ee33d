"""Sheets to print, for the page."""

from __future__ import annotations

from typing import Literal

from leakdx.case.model import Job
from leakdx.panels.shapes import SheetAnswer

_TITLES = {"job": "Job sheet", "customer": "Sheet for the owner"}


def sheet_answer(html: str, job: Job, which: Literal["job", "customer"], head: int) -> SheetAnswer:
    """A page of a job, with what it is called and the name of its file."""
    return {
        "head": head,
        "which": which,
        "title": f"{_TITLES[which]}: {job.name or job.id.replace('_', ' ')}",
        "html": html,
        "filename": f"{job.id}-{which}-sheet.html",
    }
