"""Where the parts of the boot notice are on a screen, and whether two readable codes fit. Numbers only, no drawing."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.joints.links import BUILD_DIGITS, code_modules, code_version, longest_link, report_link

LEAST_MODULE_PIXELS = 3  # below this a television's blur closes the gaps between modules
LINE = 11  # height in pixels of one line of the notice's font at scale 1
CHARACTER = 6  # its advance
TELEVISION_LINES = 576  # the most that composite video shows, in two fields of 625 lines (ITU-R BT.601)


GROUND, PAPER, INK = (14, 26, 46), (255, 255, 255), (0, 0, 0)
QUIET_TEXT, STRONG = (160, 182, 206), (250, 206, 92)
FEEDBACK, BUG = (40, 120, 90), (176, 36, 60)
_FEW = {1: (INK, PAPER), 2: (INK, (85, 85, 85), (170, 170, 170), PAPER)}


def notice_colours(bits: int) -> tuple[tuple[int, int, int], ...]:
    """Return the colours of the notice's own palette on a screen with this many bits per pixel."""
    return _FEW.get(bits, (INK, PAPER, GROUND, QUIET_TEXT, STRONG, FEEDBACK, BUG))


@dataclass(frozen=True)
class _Style:
    """Scales of the text and the free pixels around things, from roomy to tight."""

    title: int
    build: int
    label: int
    gap: int
    safe: int  # share of each side kept free for televisions that cut the picture: 1/safe, 0 for none


_STYLES = (
    _Style(title=4, build=4, label=2, gap=12, safe=20),
    _Style(title=3, build=3, label=2, gap=8, safe=20),
    _Style(title=2, build=2, label=1, gap=5, safe=20),
    _Style(title=2, build=1, label=1, gap=3, safe=24),
    _Style(title=1, build=1, label=1, gap=1, safe=0),
)


@dataclass(frozen=True)
class NoticeLayout:
    """Places in pixels of the screen, from its top left.

    Attributes:
        module: pixels of one module of a code.
        side: pixels of one side of a code with its quiet zone.
        codes: left and top of the feedback code and of the bug code.
        lines: name (title, info, build, warning) -> (top, scale); lines are centred.
        labels: top and scale of the words under the codes.
    """

    module: int
    side: int
    codes: tuple[tuple[int, int], tuple[int, int]]
    lines: dict[str, tuple[int, int]]
    labels: tuple[int, int]


def lay_out_notice(width: int, height: int, version: int) -> NoticeLayout | None:
    """Return the roomiest layout for two codes of a QR version, or None when they cannot have 3 pixels a module."""
    modules = code_modules(version)
    for style in _STYLES:
        room = _room(style, width, height)
        if min(room) >= modules * LEAST_MODULE_PIXELS:
            return _place(style, width, height, modules, min(room) // modules)
    return None


def code_problem(link: str, width: int, height: int) -> tuple[str, str] | None:
    """Return what is wrong with a link as a code on a screen of this size, and what to shorten; or None."""
    length = len(report_link(link, "0" * BUILD_DIGITS).encode())
    version = code_version(length)
    if version is not None and lay_out_notice(width, height, version):
        return None
    most = longest_link(min(_room(_STYLES[-1], width, height)) // LEAST_MODULE_PIXELS)
    wrong = f"{length} bytes with the build code make a code of under {LEAST_MODULE_PIXELS} pixels a module on {width} x {height}"
    if not most:
        return wrong, "two readable codes do not fit this screen at all; leave the [screen] out and print the codes only"
    return wrong, f"use a link of at most {most} bytes: shorten it by {length - most}"


def _room(style: _Style, width: int, height: int) -> tuple[int, int]:
    """Pixels one code may have across and down."""
    edge_x, edge_y = (width // style.safe, height // style.safe) if style.safe else (0, 0)
    across = (width - 2 * edge_x - style.gap) // 2
    down = height - 2 * edge_y - _text_height(style)
    return across, max(down, 0)


def _rows(style: _Style) -> list[tuple[str, int, int, int]]:
    """The lines above the codes: name, scale, height and free pixels below; at scale 1 the build code shares a line."""
    rows = [("title", style.title, style.gap // 2), ("info", 1, style.gap // 3)]
    if style.build > 1:
        rows.append(("build", style.build, style.gap // 3))
    rows.append(("warning", 1, style.gap))
    return [(name, scale, LINE * scale, below) for name, scale, below in rows]


def _text_height(style: _Style) -> int:
    """Pixels of height that are not the codes': the lines above, and the labels with their bar's rim below."""
    return sum(height + below for _, _, height, below in _rows(style)) + LINE * style.label + 2


def _place(style: _Style, width: int, height: int, modules: int, module: int) -> NoticeLayout:
    side = modules * module
    spare = height - side - _text_height(style)
    top = spare // 3 if style.safe else spare // 2
    lines = {}
    for name, scale, row, below in _rows(style):
        lines[name] = (top, scale)
        top += row + below
    between = max((width - 2 * side) // 3, 0)
    codes = ((between, top), (width - between - side, top))
    return NoticeLayout(module, side, codes, lines, (top + side + 1, style.label))
