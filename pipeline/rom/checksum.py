"""Checksums as the image writer computes them. (The reader has its own, so that it can find a mistake made here.)"""

from __future__ import annotations

import binascii
import functools
import hashlib
import sys
import zlib

from pipeline.target.fields import CHECKSUM_BYTES, CRC_MODELS, SUMS


def checksum(algorithm: str, data: bytes, byte_order: str = "big", each: int = 0, finish: str = "as is") -> int | bytes:
    """Return a checksum.

    Args:
        algorithm: a name of ``target.fields.CHECKSUM_BYTES``.
        data: the bytes covered; an odd tail counts as if a 00 followed (sum16-words).
        byte_order: of the words of ``sum16-words``.
        each: added to a sum with every unit.
        finish: ``as is``, ``negate`` (two's complement) or ``invert`` (ones' complement), in the checksum's own width.

    Returns:
        A non-negative int, or 32 bytes for ``sha256``.

    Sources: RevEng catalogue (CRC), FIPS 180-4 (SHA-256).
    """
    if algorithm == "sha256":
        return hashlib.sha256(data).digest()
    bits = 8 * CHECKSUM_BYTES[algorithm]
    value = _sum(algorithm, data, byte_order, each) if algorithm in SUMS else crc(algorithm, data)
    if finish == "negate":
        value = -value
    elif finish == "invert":
        value = ~value
    return value & ((1 << bits) - 1)


def _sum(algorithm: str, data: bytes, byte_order: str, each: int) -> int:
    if algorithm == "xor8":
        return functools.reduce(lambda value, byte: value ^ byte, data, 0)
    if SUMS[algorithm] == 1:
        return sum(data) + each * len(data)
    words = memoryview(data + bytes(len(data) % 2)).cast("H")
    total = sum(words)
    if byte_order != sys.byteorder:
        # The host swapped the bytes of every word: what it took for low bytes are the high ones.
        low = sum(words.cast("B")[0 if sys.byteorder == "little" else 1 :: 2])
        total = low * 256 + (total - low) // 256
    return total + each * len(words)


def crc(algorithm: str, data: bytes) -> int:
    """Return a CRC of the RevEng catalogue."""
    if algorithm == "CRC-32/ISO-HDLC":
        return zlib.crc32(data)
    if algorithm in ("CRC-16/XMODEM", "CRC-16/IBM-3740"):
        return binascii.crc_hqx(data, CRC_MODELS[algorithm][2])
    width, polynomial, value, reflected, final = CRC_MODELS[algorithm]
    table = _table(width, polynomial, reflected)
    if reflected:
        for byte in data:
            value = (value >> 8) ^ table[(value ^ byte) & 0xFF]
    else:
        shift, mask = width - 8, (1 << width) - 1
        for byte in data:
            value = ((value << 8) & mask) ^ table[((value >> shift) ^ byte) & 0xFF]
    return value ^ final


@functools.cache
def _table(width: int, polynomial: int, reflected: bool) -> list[int]:
    mask = (1 << width) - 1
    table = []
    for byte in range(256):
        if reflected:
            value, backwards = byte, int(f"{polynomial:0{width}b}"[::-1], 2)
            for _ in range(8):
                value = (value >> 1) ^ (backwards if value & 1 else 0)
        else:
            value = byte << (width - 8)
            for _ in range(8):
                value = ((value << 1) & mask) ^ (polynomial if value >> (width - 1) else 0)
        table.append(value)
    return table
