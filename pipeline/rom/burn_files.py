"""The step that writes an image's files for burning, their checksums, and which devices they need."""

from __future__ import annotations

import hashlib
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.joints.build_names import GOVERNED, clear
from pipeline.plain.errors import refuse
from pipeline.plain.files import read_json, write_bytes, write_json
from pipeline.rom.burn import data_lines, divide, file_name, intel_hex, record_width, s_records, sum16, swap_bytes
from pipeline.target.burn_devices import Devices, choose_devices

CHECKSUMS = "CHECKSUM.TXT"  # its name fits the 8.3 rule too
_MOST = 255
_REMEDY = "choose another cartridge size, or leave the form out of forms"


@dataclass(frozen=True)
class Part:
    """One run of bytes to burn.

    Attributes:
        tag, short: what its file name has after the game's code.
        what: for a person.
        data: its bytes.
    """

    tag: str
    short: str
    what: str
    data: bytes


def write_burn(
    image: Path,
    manifest: Path,
    code: str,
    forms: list[str],
    first: int,
    device: int | None,
    short_names: bool,
    byte_order: str,
) -> str:
    """Write the files of every form, ``CHECKSUM.TXT`` and the manifest; return a line that says which devices are needed.

    The manifest: ``files`` (name -> SHA-256), ``image`` (bytes, crc32), ``first_address``, and ``forms``: for each its
    ``form``, ``devices`` (count, bytes, width, names, words) and ``files``; of each file ``file``, ``what``, ``from`` (offset of
    its first byte in its part), ``bytes``, ``crc32`` and ``sum16`` of what is burnt, ``device_sum16`` with the rest of the
    device left as FFh, and ``file_bytes``, ``file_crc32`` of the file itself.

    Args:
        image: the padded image.
        manifest: where it goes; the files go into a folder of the same name beside it.
        forms: of ``target.burn_devices.WIDTHS``, each once.
        first: address of the image's first byte in S-records and Intel HEX.
        device: bytes of the devices the author has, or None for the smallest that do.
        byte_order: of the console's bus.

    Raises:
        ProjectError: the image does not divide over the bus, an address has more than 32 bits, or a file cannot be written.
    """
    data, folder = image.read_bytes(), manifest.with_suffix("")
    files: dict[str, bytes] = {}
    lines = [_form(form, data, code, first, device, short_names, byte_order, files) for form in forms]
    files[CHECKSUMS] = checksum_text(lines).encode("ascii")
    for name, content in files.items():
        write_bytes(folder / name, content)
    clear(manifest.parent, {f"{folder.name}/{name}" for name in files}, only=GOVERNED[manifest.name])
    listed = {f"{folder.name}/{name}": hashlib.sha256(content).hexdigest() for name, content in files.items()}
    facts = {"bytes": len(data), "crc32": f"{zlib.crc32(data):08x}"}
    write_json(manifest, {"files": listed, "image": facts, "first_address": first, "forms": lines})
    return "; ".join(f"{one['form']}: {one['devices']['words']}" for one in lines)


def refuse_burn() -> str:
    """Say what is missing if burning is asked for and the project file does not say how.

    Raises:
        ProjectError: always.
    """
    remedy = "add it with at least one form, for example: forms = [\"even-odd\"]; see the guide's page burning.md"
    raise refuse("project.toml", "[burn]", "is missing, so there are no files for burning", remedy)


def show_burn(manifest: Path) -> str:
    """Return what is to be burnt, as lines for a person."""
    lines = []
    for form in read_json(manifest)["forms"]:
        devices = form["devices"]
        lines += [f"{form['form']}: {devices['words']} ({', '.join(devices['names'])})"]
        lines += [f"  {_line(one)}" for one in form["files"]]
    return "\n".join([*lines, "", "Erasers, voltages and reversed devices can do harm: read the guide's page burning.md first."])


def _form(
    form: str, data: bytes, code: str, first: int, device: int | None, short: bool, byte_order: str, files: dict[str, bytes]
) -> dict[str, Any]:
    """Add the files of one form; return what the manifest says about it."""
    text = form in ("s-record", "intel-hex")
    parts = [Part("", "", "the whole image", data)] if text else _parts(form, data, byte_order)
    devices = choose_devices(form, [len(part.data) for part in parts], device)
    if text:
        ending, content = _text_file(form, data, first, code)
        name = file_name(code, "", ending, short)
        files[name] = content
        lines = [_file_lines(name, parts[0].what, 0, data, content, devices)]
    else:
        lines = _binary_files(parts, devices, code, short, files)
    shown = {"count": devices.count, "bytes": devices.bytes, "width": devices.width, "names": devices.names, "words": str(devices)}
    return {"form": form, "devices": shown, "files": lines}


def _parts(form: str, data: bytes, byte_order: str) -> list[Part]:
    ways = {"swapped": 2, "even-odd": 2, "four-way": 4}.get(form, 1)
    if len(data) % ways:
        raise refuse("project.toml", "[burn] forms", f"an image of {len(data):,} bytes does not divide by {ways}, as {form} needs", _REMEDY)
    if form == "whole":
        return [Part("", "", "the whole image", data)]
    if form == "swapped":
        return [Part("swapped", "sw", "the two bytes of each word exchanged", swap_bytes(data))]
    names = [("even", "ev"), ("odd", "od")] if ways == 2 else [(f"{rank + 1}of4", f"q{rank + 1}") for rank in range(4)]
    words = ["even addresses", "odd addresses"] if ways == 2 else [f"addresses 4n + {rank}" for rank in range(4)]
    return [
        Part(*names[rank], f"{words[rank]}, data lines {data_lines(ways, rank, byte_order)}", share)
        for rank, share in enumerate(divide(data, ways))
    ]


def _text_file(form: str, data: bytes, first: int, code: str) -> tuple[str, bytes]:
    """Return ending and content of a file of records."""
    try:
        if form == "intel-hex":
            return "hex", intel_hex(data, first)
        # Customary endings say the width of the address: 16, 24 or 32 bits (common practice, no source).
        return {2: "s19", 3: "s28", 4: "s37"}[record_width(first, len(data))], s_records(data, first, code)
    except ValueError as error:
        remedy = "set addresses = \"from 0\""
        raise refuse("project.toml", "[burn] addresses", f"the last address of the image, {error}; {form} has 32", remedy) from None


def _binary_files(parts: list[Part], devices: Devices, code: str, short: bool, files: dict[str, bytes]) -> list[dict[str, Any]]:
    """Add a file for each device; a part larger than a device is cut into consecutive devices."""
    lines = []
    for part in parts:
        starts = range(0, len(part.data), devices.bytes)
        if len(starts) > _MOST:
            wrong = f"{len(starts)} consecutive devices are more than {_MOST}"
            raise refuse("project.toml", "[burn] device", wrong, "set a larger device, or leave device out")
        for rank, start in enumerate(starts):
            tag, what = part.short if short else part.tag, part.what
            if len(starts) > 1:
                # A short name has room for two digits.
                tag = f"{tag}{rank + 1:02x}" if short else f"{tag}{'.' if tag else ''}{rank + 1}"
                what = f"{what}; device {rank + 1} of {len(starts)} consecutive ones"
            name, content = file_name(code, tag, "bin", short), part.data[start : start + devices.bytes]
            files[name] = content
            lines.append(_file_lines(name, what, start, content, content, devices))
    return lines


def _file_lines(name: str, what: str, start: int, burnt: bytes, content: bytes, devices: Devices) -> dict[str, Any]:
    return {
        "file": name,
        "what": what,
        "from": start,
        "bytes": len(burnt),
        "crc32": f"{zlib.crc32(burnt):08x}",
        "sum16": f"{sum16(burnt):04x}",
        "device_sum16": f"{sum16(burnt, max(devices.bytes - len(burnt), 0)):04x}",
        "file_bytes": len(content),
        "file_crc32": f"{zlib.crc32(content):08x}",
    }


def checksum_text(forms: list[dict[str, Any]]) -> str:
    """Return ``CHECKSUM.TXT``: a line for each file, and what the columns are."""
    lines = [
        "What is burnt: bytes, CRC-32 (as in zip archives), sum of all bytes modulo 65536, and the same sum over the whole device",
        "when the rest of it stays erased (FF). Of a file of records it is the data it carries, not the file.",
        "",
        f"{'FILE':<24} {'BYTES':>9} {'CRC-32':<8} {'SUM':<4} {'DEVICE':<6} WHAT",
    ]
    for form in forms:
        lines += ["", f"{form['form']}: {form['devices']['words']}"]
        lines += [_line(one) for one in form["files"]]
    return "\r\n".join([*lines, ""])


def _line(one: dict[str, Any]) -> str:
    return f"{one['file']:<24} {one['bytes']:>9} {one['crc32']} {one['sum16']} {one['device_sum16']:<6} {one['what']}"
