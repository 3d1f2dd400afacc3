"""Where the templates and the fonts are: inside the installed package, or beside it in a clone."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parents[1]
_INSTALLED = _PACKAGE / "templates"
TEMPLATES = _INSTALLED if _INSTALLED.is_dir() else _PACKAGE.parent / "templates"
REGULAR = TEMPLATES / "fonts" / "DejaVuSans.ttf"
BOLD = TEMPLATES / "fonts" / "DejaVuSans-Bold.ttf"
MONO = TEMPLATES / "fonts" / "DejaVuSansMono.ttf"
