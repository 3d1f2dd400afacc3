"""Whether a sound file is whole, seen from its own lengths and sums: libsndfile takes what is there for all there was.

RIFF: Microsoft and IBM (1991); RF64: EBU Tech 3306; AIFF: EA IFF 85; AU, CAF and W64: as their publishers
document them; Ogg: RFC 3533;
MP3's count of frames: the Xing header. FLAC is left out: its own sum is
looked at where it is decoded.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from pipeline.plain.bounds import SOUND_CHUNKS
from pipeline.plain.errors import ProjectError, refuse

AGAIN = "export it again, best as WAV or FLAC"
_W64 = bytes.fromhex("726966662e91cf11a5d628db04c10000")
_UNKNOWN = 0xFFFFFFFF  # a length that was not known when it was written
_UNKNOWN_LONG = 0xFFFFFFFFFFFFFFFF
_LAST = 4  # of an Ogg page's flags: the last page of its stream
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def container_of(data: bytes) -> str | None:
    """Return the kind of a sound file by its first bytes, one of those read; None for any other file."""
    start, form = data[:4], data[8:12]
    if start in (b"RIFF", b"RIFX", b"RF64") and form == b"WAVE":
        return "WAV"
    if start == b"FORM" and form in (b"AIFF", b"AIFC"):
        return "AIFF"
    if data[:16] == _W64:
        return "W64"
    plain = {b"fLaC": "FLAC", b"OggS": "Ogg", b".snd": "AU", b"dns.": "AU", b"caff": "CAF"}
    if start in plain:
        return plain[start]
    # An MPEG frame starts with eleven bits, and its layer is not 0; a tag may come first.
    sync = len(data) > 1 and data[0] == 0xFF and data[1] & 0xE0 == 0xE0 and data[1] & 6
    return "MP3" if data[:3] == b"ID3" or sync else None


def check_whole(data: bytes, name: str, container: str) -> None:
    """Refuse a file that lacks some of what it says it holds.

    Args:
        container: what ``container_of`` returns for it.

    Raises:
        ProjectError: it is cut short, a page of an Ogg file is damaged or missing, or it has more chunks than are looked through.
    """
    if container in ("WAV", "AIFF", "W64", "CAF"):
        _check_chunks(data, name)
    elif container == "AU":
        _check_au(data, name)
    elif container == "Ogg":
        _check_ogg(data, name)


def chunks(data: bytes, name: str) -> Iterator[tuple[bytes, int, int]]:
    """Yield the name of every chunk, where its content starts and its length as written, of a RIFF, RF64, AIFF, CAF or W64 file.

    Raises:
        ProjectError: there are more than are looked through.
    """
    wide = data[:16] == _W64
    order = "big" if data[:4] in (b"RIFX", b"FORM", b"caff") else "little"
    letters, digits, align, at = (16, 8, 8, 40) if wide else (4, 8, 1, 8) if data[:4] == b"caff" else (4, 4, 2, 12)
    head, count = letters + digits, 0
    while at + head <= len(data):
        count += 1
        if count > SOUND_CHUNKS:
            raise refuse(name, "", f"has {count:,} chunks or more, at most {SOUND_CHUNKS:,} are looked through", AGAIN)
        size = int.from_bytes(data[at + letters : at + head], order) - head * wide  # W64 counts the head too
        yield data[at : at + 4], at + head, size
        at += head + max(size, 0)
        at += -at % align


def _check_chunks(data: bytes, name: str) -> None:
    long = None
    for kind, at, size in chunks(data, name):
        if kind == b"ds64":
            long = int.from_bytes(data[at + 8 : at + 16], "little")
        if kind in (b"data", b"SSND"):
            if data[:4] == b"caff" and size == _UNKNOWN_LONG:
                return
            claimed = long if long is not None and size == _UNKNOWN else size
            if at + claimed > len(data):
                raise _cut(name, len(data) - at, claimed, "bytes of samples")
            return


def _check_au(data: bytes, name: str) -> None:
    order = "big" if data[:1] == b"." else "little"
    at, size = (int.from_bytes(data[start : start + 4], order) for start in (4, 8))
    if size != _UNKNOWN and at + size > len(data):
        raise _cut(name, max(0, len(data) - at), size, "bytes of samples")


def _check_ogg(data: bytes, name: str) -> None:
    at, number, flags = 0, 0, 0
    following: dict[bytes, int] = {}  # serial number of a stream -> number of its next page
    while at < len(data):
        size = 27 + data[at + 26] if at + 27 <= len(data) else len(data)
        size += sum(data[at + 27 : at + size])
        page = data[at : at + size]
        number += 1
        if page[:4] != b"OggS":
            raise refuse(name, "", f"is damaged: page {number} of the Ogg file does not start where page {number - 1} ends", AGAIN)
        if len(page) < size:
            raise refuse(name, "", f"is cut short: its page {number} ends too early", AGAIN)
        if _ogg_sum(page[:22] + bytes(4) + page[26:]) != int.from_bytes(page[22:26], "little"):
            raise refuse(name, "", f"is damaged: the checksum of page {number} of the Ogg file is wrong", AGAIN)
        serial, rank, flags = page[14:18], int.from_bytes(page[18:22], "little"), page[5]
        if rank != following.get(serial, rank):
            raise refuse(name, "", f"is damaged: a page is missing before page {number} of the Ogg file", AGAIN)
        following[serial] = rank + 1
        at += size
    if not flags & _LAST:
        raise refuse(name, "", f"is cut short: none of its {number:,} pages is marked as the last", AGAIN)


def _ogg_sum(page: bytes) -> int:
    """Return the sum of RFC 3533, the CRC-32 of zlib with its bits reversed."""
    turned = zlib.crc32(page.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{turned:032b}"[::-1], 2)


def _cut(name: str, there: int, claimed: int, what: str) -> ProjectError:
    return refuse(name, "", f"is cut short: {there:,} of {claimed:,} {what} are there", AGAIN)
