"""Checksums, the writer's and the reader's, against published check values and independent libraries."""

from __future__ import annotations

import binascii
import hashlib
import struct
import zlib

import crccheck
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.reading.sums import read_checksum
from pipeline.rom.checksum import checksum
from pipeline.target.fields import CHECKSUM_BYTES, CRC_MODELS

CHECK = b"123456789"


def written(algorithm, data, byte_order="big", each=0, finish="as is"):
    """Return a checksum of the image writer as a number."""
    value = checksum(algorithm, data, byte_order, each, finish)
    return value if isinstance(value, int) else int.from_bytes(value, "big")


def read(algorithm, data, byte_order="big", each=0, finish="as is"):
    """Return a checksum of the image reader."""
    return read_checksum(algorithm, data, byte_order, each, finish)


both = pytest.mark.parametrize("compute", [written, read])

# RevEng, Catalogue of parametrised CRC algorithms: "check" and "residue" of each (residues from memory).
CATALOGUE = {
    "CRC-8/SMBUS": (0xF4, 0x00),
    "CRC-16/IBM-3740": (0x29B1, 0x0000),
    "CRC-16/XMODEM": (0x31C3, 0x0000),
    "CRC-16/SPI-FUJITSU": (0xE5CC, 0x0000),
    "CRC-16/KERMIT": (0x2189, 0x0000),
    "CRC-16/IBM-SDLC": (0x906E, 0xF0B8),
    "CRC-16/GENIBUS": (0xD64E, 0x1D0F),
    "CRC-16/ARC": (0xBB3D, 0x0000),
    "CRC-16/MODBUS": (0x4B37, 0x0000),
    "CRC-16/USB": (0xB4C8, 0xB001),
    "CRC-32/ISO-HDLC": (0xCBF43926, 0xDEBB20E3),
    "CRC-32/BZIP2": (0xFC891918, 0xC704DD7B),
    "CRC-32/MPEG-2": (0x0376E6E7, 0x00000000),
    "CRC-32/JAMCRC": (0x340BC6D9, 0x00000000),
    "CRC-32/ISCSI": (0xE3069283, 0xB798B438),
}
# The same algorithms in the independent library.
LIBRARY = {
    "CRC-8/SMBUS": crccheck.crc.Crc8Smbus,
    "CRC-16/IBM-3740": crccheck.crc.Crc16Ibm3740,
    "CRC-16/XMODEM": crccheck.crc.Crc16Xmodem,
    "CRC-16/SPI-FUJITSU": crccheck.crc.Crc16SpiFujitsu,
    "CRC-16/KERMIT": crccheck.crc.Crc16Kermit,
    "CRC-16/IBM-SDLC": crccheck.crc.Crc16IbmSdlc,
    "CRC-16/GENIBUS": crccheck.crc.Crc16Genibus,
    "CRC-16/ARC": crccheck.crc.Crc16Arc,
    "CRC-16/MODBUS": crccheck.crc.Crc16Modbus,
    "CRC-16/USB": crccheck.crc.Crc16Usb,
    "CRC-32/ISO-HDLC": crccheck.crc.Crc32IsoHdlc,
    "CRC-32/BZIP2": crccheck.crc.Crc32Bzip2,
    "CRC-32/MPEG-2": crccheck.crc.Crc32Mpeg2,
    "CRC-32/JAMCRC": crccheck.crc.Crc32Jamcrc,
    "CRC-32/ISCSI": crccheck.crc.Crc32Iscsi,
}


def test_every_crc_has_its_check_value_here():
    """A CRC added to the product needs its published check value and its counterpart in the independent library."""
    assert set(CATALOGUE) == set(LIBRARY) == set(CRC_MODELS)


@both
@pytest.mark.parametrize(("algorithm", "value"), [(name, check) for name, (check, _) in CATALOGUE.items()])
def test_check_value_of_the_catalogue(compute, algorithm, value):
    """The CRC of ASCII 123456789 is the catalogue's check value."""
    assert compute(algorithm, CHECK) == value


@both
@pytest.mark.parametrize("algorithm", CATALOGUE)
@settings(max_examples=25)
@given(data=st.binary(max_size=40))
def test_residue_of_the_catalogue(compute, algorithm, data):
    """A message followed by its own CRC, sent in the CRC's bit order, leaves the catalogue's residue."""
    width, _, _, reflected, final = CRC_MODELS[algorithm]
    order = "little" if reflected else "big"
    sent = data + compute(algorithm, data).to_bytes(width // 8, order)
    assert compute(algorithm, sent) ^ final == CATALOGUE[algorithm][1]


@both
@pytest.mark.parametrize("algorithm", CATALOGUE)
@settings(max_examples=25)
@given(data=st.binary(max_size=300))
def test_crc_of_any_bytes(compute, algorithm, data):
    """Any bytes have the CRC that the independent library (crccheck) finds."""
    assert compute(algorithm, data) == LIBRARY[algorithm].calc(data)


# RFC 3720 (iSCSI), B.4: CRC-32C of 32 bytes; there printed as the bytes sent, least significant first (from memory).
@both
@pytest.mark.parametrize(
    ("data", "value"),
    [
        (bytes(32), 0x8A9136AA),
        (b"\xff" * 32, 0x62A8AB43),
        (bytes(range(32)), 0x46DD794E),
        (bytes(reversed(range(32))), 0x113FDB5C),
    ],
)
def test_examples_of_rfc_3720(compute, data, value):
    """The CRC of iSCSI has the values printed in its standard."""
    assert compute("CRC-32/ISCSI", data) == value


# FIPS 180-4 by way of NIST's example values for SHA-256.
@both
@pytest.mark.parametrize(
    ("data", "digest"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (CHECK, "15e2b0d3c33891ebb0f1ef609ec419420c20e320ce94c65fbc8c3312448eb225"),
    ],
)
def test_sha_256_examples(compute, data, digest):
    """SHA-256 has the values NIST publishes."""
    assert f"{compute('sha256', data):064x}" == digest


# Sums of ASCII 123456789 by hand: the digits' codes 0x31 to 0x39 add up to 0x1DD; sums of this kind are common practice, no source.
@both
@pytest.mark.parametrize(
    ("algorithm", "order", "finish", "value"),
    [
        ("sum8", "big", "as is", 0xDD),
        ("sum8", "big", "negate", 0x23),
        ("sum8", "big", "invert", 0x22),
        ("sum16", "big", "as is", 0x01DD),
        ("sum16", "little", "as is", 0x01DD),
        ("sum16", "big", "negate", 0xFE23),
        ("sum32", "big", "as is", 0x1DD),
        ("sum32", "big", "negate", 0xFFFFFE23),
        ("sum32", "big", "invert", 0xFFFFFE22),
        ("xor8", "big", "as is", 0x31),
        ("xor8", "big", "negate", 0xCF),
        ("sum16-words", "big", "as is", 0x09D4),  # 3132 + 3334 + 3536 + 3738 + 3900 = 109D4
        ("sum16-words", "big", "negate", 0xF62C),
        ("sum16-words", "little", "as is", 0xD509),  # 3231 + 3433 + 3635 + 3837 + 0039 = D509
    ],
)
def test_sums_of_the_check_text(compute, algorithm, order, finish, value):
    """Sums, exclusive or, and their two's and ones' complements are what adding up by hand gives."""
    assert compute(algorithm, CHECK, order, 0, finish) == value


@both
@pytest.mark.parametrize("algorithm", ["sum8", "sum16", "sum32", "xor8"])
@settings(max_examples=25)
@given(data=st.binary(max_size=300))
def test_sums_of_any_bytes(compute, algorithm, data):
    """Byte sums and exclusive or equal those of the independent library (crccheck)."""
    library = {
        "sum8": crccheck.checksum.Checksum8,
        "sum16": crccheck.checksum.Checksum16,
        "sum32": crccheck.checksum.Checksum32,
        "xor8": crccheck.checksum.ChecksumXor8,
    }[algorithm]
    expected = library.calc(data) if algorithm in ("sum8", "xor8") else sum(data) % 2 ** int(algorithm[3:])
    assert compute(algorithm, data) == expected


@both
@pytest.mark.parametrize(("order", "sign"), [("big", ">"), ("little", "<")])
@settings(max_examples=25)
@given(data=st.binary(max_size=301), each=st.integers(0, 255))
def test_word_sums_of_any_bytes(compute, order, sign, data, each):
    """A sum of 16-bit words counts an odd last byte as if 00 followed, in either byte order, and adds ``each`` a word."""
    padded = data + b"\0" * (len(data) % 2)
    words = struct.unpack(f"{sign}{len(padded) // 2}H", padded)
    assert compute("sum16-words", data, order, each) == sum(word + each for word in words) % 65536


@both
@pytest.mark.parametrize("bits", [8, 16, 32])
@settings(max_examples=25)
@given(data=st.binary(max_size=100), each=st.integers(0, 255))
def test_amount_added_with_each_byte(compute, bits, data, each):
    """``each`` is added once a byte, as in sums of x + 1 (common practice, no source)."""
    raised = np.frombuffer(data, dtype=np.uint8).astype(object) + each
    assert compute(f"sum{bits}", data, "big", each) == int(sum(raised)) % 2**bits


@both
@pytest.mark.parametrize("algorithm", sorted(set(CHECKSUM_BYTES) - {"sha256"}))
@settings(max_examples=25)
@given(data=st.binary(max_size=60))
def test_complements(compute, algorithm, data):
    """A value and its two's complement add up to 0, a value and its ones' complement to all ones, in its own width."""
    size = 1 << (8 * CHECKSUM_BYTES[algorithm])
    value = compute(algorithm, data)
    assert 0 <= value < size
    assert (value + compute(algorithm, data, finish="negate")) % size == 0
    assert value + compute(algorithm, data, finish="invert") == size - 1


@both
@pytest.mark.parametrize("kib", [32, 64, 128])
def test_erased_device(compute, kib):
    """An erased EPROM (all bits one, AMD Am27C010 data sheet) has the CRC and sums that other code finds."""
    blank = b"\xff" * (kib * 1024)
    assert compute("CRC-32/ISO-HDLC", blank) == zlib.crc32(blank)
    assert compute("CRC-16/IBM-3740", blank) == binascii.crc_hqx(blank, 0xFFFF)
    assert compute("sum16", blank) == 255 * len(blank) % 65536
    assert compute("sum16-words", blank) == -(len(blank) // 2) % 65536


@given(st.sampled_from(sorted(CHECKSUM_BYTES)), st.binary(max_size=500), st.sampled_from(["big", "little"]), st.integers(0, 255))
def test_writer_and_reader_agree(algorithm, data, order, each):
    """Written apart from each other, the two come to the same value for all algorithms."""
    for finish in ("as is",) if algorithm == "sha256" else ("as is", "negate", "invert"):
        assert written(algorithm, data, order, each, finish) == read(algorithm, data, order, each, finish)


@given(st.binary(max_size=200))
def test_sha_256_is_given_as_its_32_bytes(data):
    """The writer returns the digest's bytes in the order of FIPS 180-4."""
    assert checksum("sha256", data) == hashlib.sha256(data).digest()
