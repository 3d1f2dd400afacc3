"""An image as burning devices and their programmers take it: swapped, divided over a bus, as S-records, as Intel HEX.

Pure: bytes in, bytes out.
"""

from __future__ import annotations

from collections.abc import Iterator

_S_DATA = 32  # bytes a record carries; both standards allow up to 250 or so, loaders take 32
_HEX_DATA = 16
# Names that old disk systems keep for devices, whatever the ending (common practice, no source).
_DEVICE_NAMES = {"CON", "PRN", "AUX", "NUL", *(f"{port}{rank}" for port in ("COM", "LPT") for rank in range(1, 10))}
_END = "\r\n"  # programmers' software is often older than the habit of a bare line feed


def swap_bytes(data: bytes) -> bytes:
    """Return the two bytes of every 16-bit word exchanged.

    Raises:
        ValueError: a byte is left over.
    """
    even, odd = divide(data, 2)
    swapped = bytearray(len(data))
    swapped[0::2], swapped[1::2] = odd, even
    return bytes(swapped)


def divide(data: bytes, ways: int) -> list[bytes]:
    """Return the bytes for each of ``ways`` 8-bit devices beside one another: rank r has every ``ways``-th byte from r.

    Raises:
        ValueError: the bytes do not divide evenly.
    """
    if len(data) % ways:
        raise ValueError(f"{len(data)} bytes do not divide by {ways}")
    return [data[rank::ways] for rank in range(ways)]


def data_lines(ways: int, rank: int, byte_order: str) -> str:
    """Return the data lines of the bus that a device of ``divide`` drives, such as D15-D8.

    On a big-endian bus the byte of the lowest address is the most significant (M68000 Family Programmer's Reference Manual and
    M68000 User's Manual, section 2: the high-order byte of a word has the word's own, even address).
    """
    place = ways - 1 - rank if byte_order == "big" else rank
    return f"D{8 * place + 7}-D{8 * place}"


def sum16(data: bytes, fill: int = 0) -> int:
    """Return the sum of all bytes modulo 2**16, as programmers show it; ``fill`` bytes of FFh after the data count too."""
    return (sum(data) + 0xFF * fill) & 0xFFFF


def record_width(first: int, count: int) -> int:
    """Return the bytes of an S-record's address, 2 to 4, for ``count`` bytes from an address.

    Raises:
        ValueError: they end above 32 bits.
    """
    last = first + max(count, 1) - 1
    if last >> 32:
        raise ValueError(f"{last:#x} has more than 32 bits")
    return 2 if last < 1 << 16 else 3 if last < 1 << 24 else 4


def s_records(data: bytes, first: int, title: str) -> bytes:
    """Return Motorola S-records: S0, then S1, S2 or S3 by the width of the last address, S5 where the count fits, S9, S8 or S7.

    Source: M68000 Family Programmer's Reference Manual, appendix C. The checksum is the ones' complement of the low byte of the
    sum of count, address and data.

    Args:
        data: what is burnt.
        first: address of its first byte.
        title: ASCII, for S0.

    Raises:
        ValueError: an address above 32 bits.
    """
    width = record_width(first, len(data))
    lines = [_s_record(0, 2, 0, title.encode("ascii"))]
    blocks = list(_blocks(data, first, _S_DATA))
    lines += [_s_record(width - 1, width, address, block) for address, block in blocks]
    if len(blocks) <= 0xFFFF:
        lines.append(_s_record(5, 2, len(blocks), b""))
    lines.append(_s_record(11 - width, width, first, b""))
    return (_END.join(lines) + _END).encode("ascii")


def _s_record(kind: int, width: int, address: int, data: bytes) -> str:
    body = bytes([width + len(data) + 1]) + address.to_bytes(width, "big") + data
    return f"S{kind}{body.hex().upper()}{~sum(body) & 0xFF:02X}"


def intel_hex(data: bytes, first: int) -> bytes:
    """Return Intel HEX: data records, an extended linear address record (04) before each new 64 KiB, the end record.

    Source: Intel, Hexadecimal Object File Format Specification, revision A, 1988. The checksum makes a record's bytes sum to 0.

    Raises:
        ValueError: an address above 32 bits.
    """
    record_width(first, len(data))
    lines, upper = [], 0
    for address, block in _blocks(data, first, _HEX_DATA):
        if address >> 16 != upper:
            upper = address >> 16
            lines.append(_hex_record(4, 0, upper.to_bytes(2, "big")))
        lines.append(_hex_record(0, address & 0xFFFF, block))
    lines.append(_hex_record(1, 0, b""))
    return (_END.join(lines) + _END).encode("ascii")


def _hex_record(kind: int, offset: int, data: bytes) -> str:
    body = bytes([len(data)]) + offset.to_bytes(2, "big") + bytes([kind]) + data
    return f":{body.hex().upper()}{-sum(body) & 0xFF:02X}"


def _blocks(data: bytes, first: int, most: int) -> Iterator[tuple[int, bytes]]:
    """Yield address and bytes of records, cut so that they end at multiples of ``most`` and so never cross 64 KiB."""
    at = 0
    while at < len(data):
        count = most - (first + at) % most
        yield first + at, data[at : at + count]
        at += count


def file_name(code: str, tag: str, ending: str, short: bool) -> str:
    """Return a file's name: ``hrel.even.bin``; short, by the 8.3 rule of old memory cards, ``HRELEV.BIN``.

    Args:
        code: the game's, 2 to 8 capitals and digits. A short name keeps 4 of them whatever the tag, so that no two tags meet.
        tag: of the file, other for each; at most 4 letters and digits when short.
        ending: without a dot, at most 3 letters.
    """
    if not short:
        return ".".join(part for part in (code.lower(), tag, ending) if part)
    stem = (code[:4] + tag).upper()
    return f"{stem}0.{ending.upper()}" if stem in _DEVICE_NAMES else f"{stem}.{ending.upper()}"
