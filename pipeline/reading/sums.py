"""Checksums as the image reader computes them, written apart from the writer's on purpose."""

from __future__ import annotations

import hashlib
import zlib

import numpy as np

from pipeline.target.fields import CRC_MODELS


def read_checksum(algorithm: str, data: bytes, byte_order: str, each: int, finish: str) -> int:
    """Return what a checksum field should hold, as a number of the algorithm's own width (sha256: 256 bits, big-endian)."""
    if algorithm == "sha256":
        return int.from_bytes(hashlib.sha256(data).digest(), "big")
    value, bits = _value(algorithm, data, byte_order, each)
    if finish == "negate":
        value = (1 << bits) - value % (1 << bits)
    if finish == "invert":
        value = (1 << bits) - 1 - value % (1 << bits)
    return value % (1 << bits)


def _value(algorithm: str, data: bytes, byte_order: str, each: int) -> tuple[int, int]:
    octets = np.frombuffer(data, dtype=np.uint8)
    if algorithm in CRC_MODELS:
        return _crc(algorithm, data), CRC_MODELS[algorithm][0]
    if algorithm == "xor8":
        return int(np.bitwise_xor.reduce(octets, initial=0)), 8
    if algorithm == "sum16-words":
        words = np.append(octets, np.zeros(len(octets) % 2, dtype=np.uint8)).view(">u2" if byte_order == "big" else "<u2")
        return int(words.sum(dtype=np.uint64)) + each * len(words), 16
    return int(octets.sum(dtype=np.uint64)) + each * len(octets), int(algorithm.removeprefix("sum"))


def _crc(algorithm: str, data: bytes) -> int:
    """Long division, four bits at a time, always from the left; reflection is done on bytes and result instead."""
    if algorithm == "CRC-32/ISO-HDLC":
        return zlib.crc32(data)
    width, polynomial, value, reflected, final = CRC_MODELS[algorithm]
    mask = (1 << width) - 1
    steps = []
    for nibble in range(16):
        rest = nibble << (width - 4)
        for _ in range(4):
            rest = (rest << 1) ^ polynomial if rest >> (width - 1) else rest << 1
            rest &= mask
        steps.append(rest)
    for byte in data:
        if reflected:
            byte = int(f"{byte:08b}"[::-1], 2)
        for nibble in (byte >> 4, byte & 15):
            value = ((value << 4) & mask) ^ steps[(value >> (width - 4)) ^ nibble]
    if reflected:
        value = int(f"{value:0{width}b}"[::-1], 2)
    return value ^ final
