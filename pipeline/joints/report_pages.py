"""The pages about what testers sent: named by the plan, written by ``intake``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.plain.rendering import Template


@dataclass(frozen=True)
class ReportPages:
    """What is written about testers' reports, again with every answer.

    Attributes:
        page: for a browser; ``table``: the same as CSV.
        template: of the page; ``script``: what it runs in the browser.
    """

    page: Path
    table: Path
    template: Template
    script: Path
