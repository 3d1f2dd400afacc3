"""Which codec is taken, and that what it made is looked at before it is handed on."""

from __future__ import annotations

import pytest

from pipeline.codec import choose
from pipeline.codec.choose import pack

BOTH = ("packbits", "lz4")
REPEATED = bytes(range(64)) * 8  # no runs, but repeats
RUN = b"\x07" * 100


def test_codec_asked_for_is_taken_though_it_makes_more():
    """A named codec is an order."""
    assert pack(b"ab", "packbits", ()) == ("packbits", b"\x01ab", {"packbits": 3})
    assert pack(b"ab", "stored", BOTH) == ("stored", b"ab", {"stored": 2})


def test_best_is_the_smallest_that_the_target_unpacks():
    """Repeats are best with LZ4, a short run with PackBits; without LZ4 the next best is taken."""
    assert pack(REPEATED, "best", BOTH).codec == "lz4"
    assert pack(RUN, "best", BOTH) == ("packbits", b"\x9d\x07", {"stored": 100, "packbits": 2, "lz4": 11})
    assert pack(REPEATED, "best", ("packbits",)) == ("stored", REPEATED, {"stored": 512, "packbits": 516})
    assert pack(RUN, "best", ()).codec == "stored"


def test_of_equal_sizes_the_cheaper_to_unpack_is_taken():
    """Two equal bytes are two stored and two packed; sizes made up here tie between the codecs, named the other way round."""
    assert pack(b"aa", "best", BOTH) == ("stored", b"aa", {"stored": 2, "packbits": 2, "lz4": 3})
    tie = b"tied"
    made = {"packbits": 3, "lz4": 3, "stored": 4}
    with pytest.MonkeyPatch.context() as patch:
        for name, length in made.items():
            codec = choose._Codec(lambda _, length=length: bytes(length), lambda *_: tie)
            patch.setitem(choose._CODECS, name, codec)
        assert pack(tie, "best", ("lz4", "packbits")).codec == "packbits"


def test_encoder_that_errs_is_found(monkeypatch):
    """An encoder whose bytes do not unpack to the blob ends the build instead of shipping them."""
    monkeypatch.setitem(choose._CODECS, "lz4", choose._Codec(lambda data: b"\x10a", choose.lz4_block.decode))
    with pytest.raises(RuntimeError, match="lz4 does not give back"):
        pack(b"b", "lz4", ())
