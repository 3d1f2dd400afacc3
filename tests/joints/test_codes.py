"""QR codes: made by one library, read by another, and measured where a decoder is too forgiving.

ISO/IEC 18004: sides, capacities, the quiet zone of four modules, dark on light.
"""

from __future__ import annotations

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.joints.codes import code_fault, code_matrix, read_codes

LINK = "https://example.org/f/7ZK3QM"
CAPACITY_M = {1: 14, 2: 26, 3: 42, 4: 62, 5: 84, 6: 106, 7: 122, 10: 213, 20: 666, 40: 2331}  # ISO/IEC 18004 table 7, byte mode, level M


def drawn(matrix, module: int = 4, quiet: int = 4, inverted: bool = False) -> np.ndarray:
    """Return a code with its quiet zone as a picture."""
    dark = np.pad(np.kron(np.array(matrix, dtype=bool), np.ones((module, module), dtype=bool)), quiet * module)
    return np.where((dark ^ inverted)[..., None], 0, 255).astype(np.uint8).repeat(3, axis=-1)


def screen(code: np.ndarray, left: int, top: int, size: tuple[int, int] = (320, 224), ground: int = 30) -> np.ndarray:
    """Return a dark screen with a code on it."""
    picture = np.full((size[1], size[0], 3), ground, dtype=np.uint8)
    picture[top : top + code.shape[0], left : left + code.shape[1]] = code
    return picture


def read_one(picture: np.ndarray):
    """Return the only code an independent reader (zxing-cpp) finds."""
    (found,) = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return found


@pytest.mark.parametrize(("version", "capacity"), CAPACITY_M.items())
def test_a_full_code_is_read(version, capacity):
    """A text of exactly the published capacity makes that version at level M, and the reader reads it."""
    text = "".join(chr(97 + rank * 7 % 26) for rank in range(capacity))
    matrix = code_matrix(text)
    found = read_one(drawn(matrix))
    assert found.text == text
    assert found.ec_level == "M"
    assert len(matrix) == len(matrix[0]) == 17 + 4 * version


@pytest.mark.parametrize(("version", "capacity"), CAPACITY_M.items())
def test_a_byte_too_many(version, capacity):
    """A byte more than the capacity does not fit that version, and the message says so."""
    with pytest.raises(ValueError, match=rf"^{capacity + 1} bytes do not fit a code of version {version}\Z"):
        code_matrix("a" * (capacity + 1), version)


def test_a_text_no_version_holds():
    """A text beyond version 40 is refused in words of its own."""
    with pytest.raises(ValueError, match=r"^2332 bytes do not fit"):
        code_matrix("a" * 2332)


@settings(max_examples=30)
@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=30))
def test_any_text_is_read(text):
    """Whatever is written, other scripts too, is read back by the other library."""
    assert [found for found, _ in read_codes(drawn(code_matrix(text), module=3))] == [text]


@pytest.mark.parametrize("version", [3, 4, 7])
def test_a_larger_version_on_demand(version):
    """A short text can be drawn in a larger version, so that two codes have one size."""
    matrix = code_matrix(LINK, version)
    assert len(matrix) == 17 + 4 * version
    assert read_one(drawn(matrix)).text == LINK


def test_capital_letters_and_digits_are_bytes_too():
    """A text that would fit a denser mode is stored as bytes all the same, so that capacities hold: 15 digits need version 2."""
    assert len(code_matrix("0" * 15)) == 25
    assert len(code_matrix("A" * 15)) == 25


def test_codes_are_read_from_left_to_right():
    """Two codes on a screen are reported with their centres, the left one first."""
    left, right = drawn(code_matrix("left")), drawn(code_matrix("right"))
    picture = screen(left, 8, 40)
    picture[60 : 60 + len(right), 180 : 180 + len(right)] = right
    (first, at_first), (second, at_second) = read_codes(picture)
    assert (first, second) == ("left", "right")
    half = len(left) // 2
    assert at_first == (pytest.approx(8 + half, abs=3), pytest.approx(40 + half, abs=3))
    assert at_second == (pytest.approx(180 + half, abs=3), pytest.approx(60 + half, abs=3))


def test_nothing_to_read():
    """A picture without a code gives none."""
    assert read_codes(np.full((60, 60, 3), 128, dtype=np.uint8)) == []


@pytest.mark.parametrize("module", [3, 4, 5])
@pytest.mark.parametrize(("left", "top"), [(0, 0), (10, 6), (57, 30)])
def test_a_good_code_has_no_fault(module, left, top):
    """A code with its margin, dark on light, is accepted wherever it is, at the screen's edges too."""
    picture = screen(drawn(code_matrix(LINK), module), left, top)
    assert code_fault(picture, left, top, module, LINK) is None


@pytest.mark.parametrize("version", [4, 5, 6, 7])
def test_the_shorter_link_of_a_pair_has_no_fault(version):
    """A code drawn in a larger version than its text needs, as the second of a pair, is as good as any."""
    picture = screen(drawn(code_matrix(LINK, version)), 12, 9, (330, 260))
    assert read_one(picture).text == LINK
    assert code_fault(picture, 12, 9, 4, LINK, version) is None


NO_MARGIN = "has no light margin of 4 modules around dark modules"


@pytest.mark.parametrize("quiet", [1, 2, 3])
def test_a_narrow_quiet_zone_is_refused_although_it_reads(quiet):
    """A decoder reads a code whose margin is too narrow; the standard asks for four modules."""
    picture = screen(drawn(code_matrix(LINK), 4, quiet), 20 + 4 * (4 - quiet), 20 + 4 * (4 - quiet))
    assert read_one(picture).text == LINK
    assert code_fault(picture, 20, 20, 4, LINK) == NO_MARGIN


def test_an_inverted_code_is_refused_although_it_reads():
    """A decoder reads light modules on dark; many telephones do not."""
    picture = screen(drawn(code_matrix(LINK), inverted=True), 20, 20)
    assert read_one(picture).text == LINK
    assert code_fault(picture, 20, 20, 4, LINK) == NO_MARGIN


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_a_speck_in_the_margin_is_refused(side):
    """A dark speck in the margin, on any side, is found although the code reads."""
    code = drawn(code_matrix(LINK))
    end = len(code) - 2
    x, y = {"left": (1, 60), "right": (end, 60), "top": (60, 1), "bottom": (60, end)}[side]
    code[y, x] = 0
    picture = screen(code, 20, 20)
    assert read_one(picture).text == LINK
    assert code_fault(picture, 20, 20, 4, LINK) == NO_MARGIN


def test_weak_contrast_is_refused_although_it_reads():
    """Grey on grey reads on a clean screen, but dark and light must be far apart."""
    code = np.where(drawn(code_matrix(LINK)) == 0, 100, 180).astype(np.uint8)
    picture = screen(code, 20, 20)
    assert read_one(picture).text == LINK
    assert code_fault(picture, 20, 20, 4, LINK) == NO_MARGIN


@pytest.mark.parametrize(
    ("light", "passes"), [((128, 128, 128), True), ((127, 127, 127), False), ((255, 89, 0), True), ((255, 88, 0), False)]
)
def test_contrast_is_one_of_light(light, passes):
    """Half of the range at least, colours by their light as ITU-R BT.601 weighs them: 0.299, 0.587, 0.114."""
    code = drawn(code_matrix(LINK))
    picture = screen(np.where(code > 0, np.array(light), 0).astype(np.uint8), 40, 30, ground=0)
    assert (code_fault(picture, 40, 30, 4, LINK) is None) == passes


@pytest.mark.parametrize(("left", "top"), [(180, 20), (20, 200), (180, 200)])
def test_a_code_at_another_place(left, top):
    """A code that is elsewhere than asked is refused."""
    picture = screen(drawn(code_matrix(LINK)), 20, 20, (640, 480))
    assert code_fault(picture, left, top, 4, LINK) == "reads, but at another place"


@pytest.mark.parametrize(("left", "top"), [(300, 20), (20, 300), (-1, 20), (20, -1)])
def test_a_code_asked_for_beyond_the_screen(left, top):
    """A place from which the code would stick out of the screen on any one side is refused."""
    picture = screen(drawn(code_matrix(LINK)), 20, 20)
    assert code_fault(picture, left, top, 4, LINK) == "leaves the screen"


def test_another_text_does_not_read():
    """A code that says something else does not count."""
    picture = screen(drawn(code_matrix(LINK + "/x")), 20, 20)
    assert code_fault(picture, 20, 20, 4, LINK) == "does not read"
    assert code_fault(screen(drawn(code_matrix(LINK))[:60], 20, 20), 20, 20, 4, LINK) == "does not read"
