"""QR codes (ISO/IEC 18004): made by one library, read back by another."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from pipeline.joints.links import QUIET, code_modules, code_version

if TYPE_CHECKING:
    import numpy as np


@functools.lru_cache(64)  # a packet is set twice, and the author's has the same codes
def code_matrix(text: str, version: int | None = None, correction: str = "M") -> list[list[bool]]:
    """Return the modules of a code without quiet zone, True is dark; byte mode.

    Args:
        text: what it says, encoded as UTF-8.
        version: 1..40, or None for the smallest that holds the text.
        correction: error correction level, M or L.

    Raises:
        ValueError: the text does not fit the version.
    """
    import qrcode
    from qrcode.constants import ERROR_CORRECT_L, ERROR_CORRECT_M
    from qrcode.exceptions import DataOverflowError
    from qrcode.util import MODE_8BIT_BYTE, QRData

    level = ERROR_CORRECT_L if correction == "L" else ERROR_CORRECT_M
    code = qrcode.QRCode(version=version, error_correction=level, border=0)
    data = QRData(text.encode(), mode=MODE_8BIT_BYTE)  # pyright: ignore[reportArgumentType] (its stubs call its own constant an int)
    code.add_data(data, optimize=0)
    try:
        code.make(fit=version is None)
    except (DataOverflowError, ValueError):
        room = "any code" if version is None else f"a code of version {version}"
        raise ValueError(f"{len(text.encode())} bytes do not fit {room}") from None
    return code.get_matrix()


def read_codes(rgb: np.ndarray) -> list[tuple[str, tuple[int, int]]]:
    """Return text and centre (x, y in pixels) of every QR code in a picture, from left to right.

    Args:
        rgb: uint8, shape (height, width, 3), or (height, width) for greys.
    """
    import zxingcpp

    found = []
    for code in zxingcpp.read_barcodes(rgb, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)):
        corners = (code.position.top_left, code.position.top_right, code.position.bottom_right, code.position.bottom_left)
        centre = (sum(corner.x for corner in corners) // 4, sum(corner.y for corner in corners) // 4)
        found.append((code.text, centre))
    return sorted(found, key=lambda one: one[1])


def code_fault(rgb: np.ndarray, left: int, top: int, module: int, text: str, version: int | None = None) -> str | None:
    """Return why a code in a picture cannot be relied on, or None. Its place is known, so more is asked than decoding:

    a decoder may accept a code with no quiet zone, or with light and dark exchanged; testers' phones may not.

    Args:
        rgb: uint8, shape (height, width, 3).
        left, top: of the quiet zone, in pixels.
        module: pixels of one module.
        text: what it should say.
        version: of the code, where it is not the smallest that holds the text.
    """
    import numpy as np

    centres = [(code, at) for code, at in read_codes(rgb) if code == text]
    if not centres:
        return "does not read"
    (x, y), light = centres[0][1], rgb.astype(np.int32) @ np.array([299, 587, 114]) // 1000
    version = version or code_version(len(text.encode()))
    if version is None:
        return "says more than a code may"
    side = code_modules(version) * module
    if left < 0 or top < 0 or top + side > light.shape[0] or left + side > light.shape[1]:
        return "leaves the screen"
    if not (left < x < left + side and top < y < top + side):
        return "reads, but at another place"
    box, margin = light[top : top + side, left : left + side], QUIET * module
    inner = np.zeros(box.shape, dtype=bool)
    inner[margin:-margin, margin:-margin] = True
    finder = box[margin : margin + module, margin : margin + 7 * module]
    if box[~inner].min() - finder.max() < 128:
        return f"has no light margin of {QUIET} modules around dark modules"
    return None
