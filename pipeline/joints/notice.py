"""Where the parts of the boot notice are on a screen that is one picture, and whether two readable codes fit. Numbers only, no drawing."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.joints.links import BUILD_DIGITS, CORRECTIONS, Correction, code_modules, code_version, longest_link, report_link

LEAST_MODULE_PIXELS = 3  # below this a television's blur closes the gaps between modules
LINE = 11  # height in pixels of one line of the notice's font at scale 1
CHARACTER = 6  # its advance
TELEVISION_LINES = 576  # the most that composite video shows, in two fields of 625 lines (ITU-R BT.601)


BUILD_LINE = "0" * BUILD_DIGITS  # in place of a build code that is not known yet

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


_STYLES = (
    _Style(title=4, build=4, label=2, gap=12),
    _Style(title=3, build=3, label=2, gap=8),
    _Style(title=2, build=2, label=1, gap=5),
    _Style(title=2, build=1, label=1, gap=3),
    _Style(title=1, build=1, label=1, gap=1),
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


def safe_area(width: int, height: int, percent: int) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom (not included) of the middle of a screen: this share of each side, or a pixel less."""
    left, top = (-(-side * (100 - percent) // 200) for side in (width, height))
    return left, top, width - left, height - top


def lay_out_notice(width: int, height: int, version: int, safe: int = 100) -> NoticeLayout | None:
    """Return the roomiest layout for two codes of a QR version, or None when they cannot have 3 pixels a module.

    Args:
        safe: percent of each side within which text and codes stay.
    """
    left, top, right, bottom = safe_area(width, height, safe)
    modules = code_modules(version)
    for style in _STYLES:
        room = _room(style, right - left, bottom - top)
        if min(room) >= modules * LEAST_MODULE_PIXELS:
            return _place(style, (left, top, right, bottom), modules, min(room) // modules)
    return None


def lay_out_codes(
    link_bytes: tuple[int, int], width: int, height: int, safe: int = 100, correction: Correction = "M"
) -> tuple[NoticeLayout, int, Correction] | None:
    """Return the layout for two links of this length, and version and correction of both codes; or None.

    Args:
        correction: the least error correction that codes may have: a lower one is used only if nothing fits with a higher.
    """
    for level in CORRECTIONS[: CORRECTIONS.index(correction) + 1]:
        version = code_version(max(link_bytes), level)
        layout = version and lay_out_notice(width, height, version, safe)
        if version and layout:
            return layout, version, level
    return None


def code_problem(link: str, width: int, height: int, safe: int = 100, correction: Correction = "M") -> tuple[str, str] | None:
    """Return what is wrong with a link as a code on a screen of this size, and what to shorten; or None."""
    length = len(report_link(link, BUILD_LINE).encode())
    if lay_out_codes((length, length), width, height, safe, correction):
        return None
    left, top, right, bottom = safe_area(width, height, safe)
    wrong = f"{length} bytes with the build code make a code of under {LEAST_MODULE_PIXELS} pixels a module on {width} x {height}"
    if safe < 100:
        wrong += f", of which {right - left} x {bottom - top} are title-safe"
    ways = []
    most = longest_link(min(_room(_STYLES[-1], right - left, bottom - top)) // LEAST_MODULE_PIXELS, correction)
    if most:
        ways.append(f"use a link of at most {most} bytes: shorten it by {length - most}")
    if correction != CORRECTIONS[-1] and lay_out_codes((length, length), width, height, safe, CORRECTIONS[-1]):
        ways.append(f'set correction = "{CORRECTIONS[-1]}" for the screen, which makes smaller codes')
    if safe < 100 and lay_out_codes((length, length), width, height, 100, correction):
        ways.append("set title_safe = 100 in the target file, if nothing is cut off on this console's screens")
    hopeless = "two readable codes do not fit this screen at all; leave the [screen] out and print the codes only"
    return wrong, "; or ".join(ways) or hopeless


def _room(style: _Style, width: int, height: int) -> tuple[int, int]:
    """Pixels one code may have across and down, of a width and height."""
    return (width - style.gap) // 2, max(height - _text_height(style), 0)


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


def _place(style: _Style, area: tuple[int, int, int, int], modules: int, module: int) -> NoticeLayout:
    left, top, right, bottom = area
    side = modules * module
    top += (bottom - top - side - _text_height(style)) // 2
    lines = {}
    for name, scale, row, below in _rows(style):
        lines[name] = (top, scale)
        top += row + below
    between = max((right - left - 2 * side) // 3, 0)
    codes = ((left + between, top), (right - between - side, top))
    return NoticeLayout(module, side, codes, lines, (top + side + 1, style.label))
