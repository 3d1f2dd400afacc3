"""The C decoders on a 68000: another byte order, no library, every access a single byte inside its buffer."""

from __future__ import annotations

import pytest

from tests.codec.cases import DECODERS, spoilt_cases, valid_cases, verdict
from tests.conftest import need_library, need_tool, some

need_library("unicorn")
from tests.codec.unpack_68000 import SOURCE, OutOfBounds, Unpacker, compile_decoders  # noqa: E402


@pytest.fixture(scope="module", params=some(["-Os", "-O2"], 1))
def unpack(request, tmp_path_factory) -> Unpacker:
    """The decoders at an optimisation level."""
    need_tool("m68k-linux-gnu-gcc")
    return Unpacker(compile_decoders(tmp_path_factory.mktemp("68000"), request.param), watch=True)


def test_valid_data_unpacks_at_even_and_odd_addresses(unpack):
    """A word or long that a compiler makes of bytes would stop a 68000 at an odd address, so none may be seen at all."""
    for rank, case in enumerate(valid_cases(200, 300)):
        assert unpack(*case, odd=rank % 4) == DECODERS[case.codec](case.packed, case.size)


def test_spoilt_data_is_judged_as_by_the_other_decoders(unpack):
    """3,000 spoilt inputs: nothing outside the buffers is touched, and the answer is the Python decoders'."""
    refused = 0
    for rank, case in enumerate(spoilt_cases(3000, 200)):
        wanted = verdict(DECODERS[case.codec], case.packed, case.size)
        assert unpack(*case, odd=rank % 2) == wanted, case
        refused += wanted is None
    assert 1500 < refused < 3000


def test_decoders_call_nothing(unpack):
    """No call and no jump leads out: what is linked is these two functions alone."""
    assert not [text for text in unpack.code.listing.values() if text.startswith(("jsr", "jmp", "bsr"))]
    assert set(unpack.code.functions) == {"packbits", "lz4"}


def test_decoder_without_a_guard_is_caught(tmp_path):
    """The same cases find a decoder that looks back before its first byte, so an access that should not be is seen."""
    need_tool("m68k-linux-gnu-gcc")
    guard, text = "back > out_bytes - room || ", SOURCE.read_text(encoding="utf-8")
    assert guard in text
    weak = tmp_path / "unpack.c"
    weak.write_text(text.replace(guard, ""), encoding="utf-8")
    unpack = Unpacker(compile_decoders(tmp_path, "-Os", weak), watch=True)
    with pytest.raises(OutOfBounds):
        [unpack(*case) for case in spoilt_cases(1000, 200)]
