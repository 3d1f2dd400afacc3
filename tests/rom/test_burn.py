"""Files for burning against the makers' published records and three readers from outside: srecord, bincopy, intelhex."""

from __future__ import annotations

import io
import json
import subprocess
import zlib

import bincopy
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from intelhex import IntelHex

from pipeline.plain.errors import ProjectError
from pipeline.rom.burn import data_lines, divide, file_name, intel_hex, record_width, s_records, sum16, swap_bytes
from pipeline.rom.burn_files import show_burn, write_burn
from pipeline.target.burn_devices import KNOWN, WIDTHS, choose_devices, device_sizes
from tests.conftest import need_tool, tries
from tests.makers import make_project, problems, project_text, write_text

# The example of M68000 Family Programmer's Reference Manual, appendix C: title "HDR", 52 bytes at 0. One printing has a wrong
# fourth data line (count 13h before 4 bytes); the right count is that of the other lines' rule.
MOTOROLA = [
    "S00600004844521B",
    "S1130000285F245F2212226A000424290008237C2A",
    "S11300100002000800082629001853812341001813",
    "S113002041E900084E42234300182342000824A952",
    "S107003000144ED492",
    "S9030000FC",
]
# The worked records of Intel's specification and customary examples of it: 64 bytes at 0100h.
INTEL = [
    ":10010000214601360121470136007EFE09D2190140",
    ":100110002146017E17C20001FF5F16002148011928",
    ":10012000194E79234623965778239EDA3F01B2CAA7",
    ":100130003F0156702B5E712B722B732146013421C7",
    ":00000001FF",
]
PLACES = st.integers(0, 1 << 25) | st.sampled_from([0, 0xFFF0, 0xFFFF, 0x10000, 0xFFFFF0, 0x1000000, 0xFFFFFF00])


def _lines(made: bytes) -> list[str]:
    assert made.endswith(b"\r\n")
    return made.decode("ascii").split("\r\n")[:-1]


def test_published_s_records_are_made_line_by_line(monkeypatch):
    """From the manual's 52 bytes, with its 16 bytes a record, come its own lines; the count record is ours."""
    monkeypatch.setattr("pipeline.rom.burn._S_DATA", 16)
    data = bytes.fromhex("".join(line[8:-2] for line in MOTOROLA if line.startswith("S1")))
    assert (len(data), zlib.crc32(data)) == (52, 0x1900D751)
    assert [line for line in _lines(s_records(data, 0, "HDR")) if line[:2] != "S5"] == MOTOROLA
    assert "S5030004F8" in _lines(s_records(data, 0, "HDR"))  # 3 + 4 + F8h = FFh


def test_published_intel_records_are_made_line_by_line():
    """From 64 bytes at 0100h come the published lines."""
    data = bytes.fromhex("".join(line[9:-2] for line in INTEL[:-1]))
    assert (len(data), zlib.crc32(data)) == (64, 0x506E38F1)
    assert _lines(intel_hex(data, 0x100)) == INTEL


def test_published_address_records():
    """The specification's data record at FEDCh, and an extended linear address record of FFFFh."""
    assert _lines(intel_hex(bytes.fromhex("210080CF"), 0xFEDC))[0] == ":04FEDC00210080CFB2"
    assert _lines(intel_hex(b"\0", 0xFFFF0000))[0] == ":02000004FFFFFC"


@settings(deadline=None, max_examples=tries(25, 60))
@given(data=st.binary(min_size=1, max_size=3000), first=PLACES)
def test_every_record_keeps_its_makers_sum_and_rules(data, first):
    """S-records sum to FFh and their width is that of the last address; Intel's sum to 0 and never cross 64 KiB."""
    kinds = set()
    for line in _lines(s_records(data, first, "T")):
        body = bytes.fromhex(line[2:])
        assert sum(body) & 0xFF == 0xFF
        assert body[0] == len(body) - 1
        kinds.add(line[1])
    width = record_width(first, len(data))
    assert kinds == {"0", "5", str(width - 1), str(11 - width)}
    for line in _lines(intel_hex(data, first)):
        body = bytes.fromhex(line[1:])
        assert sum(body) & 0xFF == 0
        assert body[0] == len(body) - 5
        assert body[3] != 0 or int.from_bytes(body[1:3], "big") + body[0] <= 0x10000


@settings(deadline=None, max_examples=tries(25, 60))
@given(data=st.binary(min_size=1, max_size=3000), first=PLACES)
def test_other_readers_find_the_bytes_and_addresses(data, first):
    """bincopy reads both, intelhex the Intel file; each finds the first address and all bytes."""
    for made in (s_records(data, first, "T"), intel_hex(data, first)):
        read = bincopy.BinFile()
        read.add(made.decode("ascii"))
        assert (read.minimum_address, read.maximum_address) == (first, first + len(data))  # its maximum is exclusive
        assert bytes(read.as_binary()) == data
    read = IntelHex(io.StringIO(intel_hex(data, first).decode("ascii")))
    assert (read.minaddr(), read.maxaddr()) == (first, first + len(data) - 1)
    assert read.tobinstr() == data


@pytest.mark.parametrize("first", [0, 0x8000, 0xFFFF00, 0x02000000])
def test_srecord_reads_both_back_and_makes_the_same_splits(tmp_path, first):
    """``srec_cat`` turns both files into the image, joins even and odd, joins the four ways, and swaps bytes as we do."""
    tool = need_tool("srec_cat")
    data = bytes((place * 7 + (place >> 8) * 13) & 0xFF for place in range(70_000))
    (tmp_path / "a.mot").write_bytes(s_records(data, first, "T"))
    (tmp_path / "a.hex").write_bytes(intel_hex(data, first))
    (tmp_path / "a.bin").write_bytes(data)
    (tmp_path / "swapped.bin").write_bytes(swap_bytes(data))
    for ways in (2, 4):
        for rank, share in enumerate(divide(data, ways)):
            (tmp_path / f"{ways}.{rank}").write_bytes(share)

    def cat(*words: str) -> bytes:
        subprocess.run([tool, *words, "-o", "out", "-binary"], cwd=tmp_path, check=True, capture_output=True, timeout=60)
        return (tmp_path / "out").read_bytes()

    assert cat("a.mot", "-motorola", "-offset", f"-{first:#x}") == data
    assert cat("a.hex", "-intel", "-offset", f"-{first:#x}") == data
    assert cat("a.bin", "-binary", "-byte-swap", "2") == swap_bytes(data)
    for ways in (2, 4):
        joined = [word for rank in range(ways) for word in (f"{ways}.{rank}", "-binary", "-unsplit", str(ways), str(rank))]
        assert cat(*joined) == data


def test_even_address_is_the_high_byte_of_a_big_endian_bus():
    """M68000 User's Manual, 2.4: the high-order byte of a word is at its even address; on a little-endian bus the other way."""
    even, odd = divide((0x1234).to_bytes(2, "big"), 2)
    assert (even, odd) == (b"\x12", b"\x34")
    assert [data_lines(2, rank, "big") for rank in (0, 1)] == ["D15-D8", "D7-D0"]
    assert [data_lines(2, rank, "little") for rank in (0, 1)] == ["D7-D0", "D15-D8"]
    assert [data_lines(4, rank, "big") for rank in range(4)] == ["D31-D24", "D23-D16", "D15-D8", "D7-D0"]


def test_an_address_above_32_bits_is_no_record():
    """Neither standard can say it."""
    assert record_width(0xFFFFFFFF, 1) == 4
    for make in (lambda: s_records(b"ab", 0xFFFFFFFF, "T"), lambda: intel_hex(b"ab", 0xFFFFFFFF)):
        with pytest.raises(ValueError, match="more than 32 bits"):
            make()


def test_device_sizes_are_the_numbers_in_their_names():
    """27C256 to 27C080 name kibibits or, with a 0 before, mebibits; a 16-bit device's sum16 of erased rest counts FFh."""
    for name, kibibits in {"27C256": 256, "27C512": 512, "27C010": 1024, "27C020": 2048, "27C040": 4096, "27C080": 8192}.items():
        assert KNOWN[name] == (kibibits * 1024 // 8, (8,))
    assert device_sizes("whole") == [1 << power for power in range(15, 23)]  # 32 KiB to 4 MiB, none left out
    assert sum16(b"\x01", 2) == 0x1FF


@pytest.mark.parametrize(
    ("form", "sizes", "wanted", "shown"),
    [
        ("even-odd", [1 << 19] * 2, None, "two of 512 KiB, 8 bits wide"),
        ("even-odd", [3 << 18] * 2, None, "two of 1 MiB, 8 bits wide"),
        ("four-way", [1 << 20] * 4, 1 << 19, "eight of 512 KiB, 8 bits wide"),
        ("swapped", [1 << 22], None, "one of 4 MiB, 16 bits wide"),
        ("swapped", [1 << 16], None, "one of 128 KiB, 16 bits wide"),
        ("whole", [1 << 15], None, "one of 32 KiB, 8 bits wide"),
        ("whole", [1 << 23], None, "two of 4 MiB, 16 bits wide"),
    ],
)
def test_devices_for_a_form(form, sizes, wanted, shown):
    """The smallest that hold each part, or as many of the wanted or largest as it takes."""
    devices = choose_devices(form, sizes, wanted)
    assert str(devices) == shown
    assert devices.names
    assert devices.width in WIDTHS[form]


@example("CON")
@example("ABCDEFEV")
@settings(max_examples=tries(8, 100))
@given(st.from_regex(r"[A-Z][A-Z0-9]{1,7}", fullmatch=True))
def test_short_names_fit_the_8_3_rule_and_never_meet(code):
    """Whatever the code: 8 capitals or digits, a dot, 3 more, all different, and no name a disk system keeps for itself."""
    tags = ["", "sw", "ev", "od", *(f"q{rank}" for rank in range(1, 5))]
    tags += [f"{tag}{rank:02x}" for tag in tags for rank in (1, 2, 255)]
    names = [file_name(code, tag, "bin", True) for tag in tags]
    assert len(set(names)) == len(names)
    for name in names:
        stem, ending = name.split(".")
        assert name == name.upper()
        assert stem.isalnum()
        assert 1 <= len(stem) <= 8
        assert len(ending) == 3
        assert stem not in ("CON", "PRN", "AUX", "NUL", "COM1", "LPT1")


def _write(folder, image: bytes, forms: list[str], device=None, short=False, first=0) -> dict:
    (folder / "x.rom").write_bytes(image)
    write_burn(folder / "x.rom", folder / "burn.json", "HREL", forms, first, device, short, "big")
    return json.loads((folder / "burn.json").read_bytes())


def test_files_of_a_set_join_to_the_image_and_old_ones_go(tmp_path):
    """Cut into devices of 32 KiB each, even and odd make the image again; a form left out takes its files with it."""
    image = bytes(place * 31 >> 3 & 0xFF for place in range(1 << 17))
    manifest = _write(tmp_path, image, ["even-odd", "intel-hex"], 1 << 15)
    form = manifest["forms"][0]
    assert form["devices"]["words"] == "four of 32 KiB, 8 bits wide"
    shares: dict[str, bytes] = {}
    for one in form["files"]:
        data = (tmp_path / "burn" / one["file"]).read_bytes()
        assert (one["bytes"], one["crc32"], one["sum16"]) == (len(data), f"{zlib.crc32(data):08x}", f"{sum(data) % 65536:04x}")
        key = one["what"].split(";")[0]
        shares[key] = shares.get(key, b"") + data
    even, odd = shares["even addresses, data lines D15-D8"], shares["odd addresses, data lines D7-D0"]
    assert bytes(byte for pair in zip(even, odd, strict=True) for byte in pair) == image
    assert sorted(path.name for path in (tmp_path / "burn").iterdir()) == [
        "CHECKSUM.TXT", "hrel.even.1.bin", "hrel.even.2.bin", "hrel.hex", "hrel.odd.1.bin", "hrel.odd.2.bin",
    ]  # fmt: skip
    assert "hrel.even.1.bin" in show_burn(tmp_path / "burn.json")
    _write(tmp_path, image, ["four-way", "swapped", "whole", "s-record"], short=True)
    assert sorted(path.name for path in (tmp_path / "burn").iterdir()) == [
        "CHECKSUM.TXT", "HREL.BIN", "HREL.S28", "HRELQ1.BIN", "HRELQ2.BIN", "HRELQ3.BIN", "HRELQ4.BIN", "HRELSW.BIN",
    ]  # fmt: skip


def test_what_cannot_be_burnt_is_refused(tmp_path):
    """An image that does not divide, addresses above 32 bits, and too many devices."""
    cases = [
        (bytes(6), ["four-way"], 0, None, "an image of 6 bytes does not divide by 4, as four-way needs"),
        (bytes(6), ["s-record"], 1 << 32, None, "0x100000005 has more than 32 bits"),
        (bytes(1 << 24), ["whole"], 0, 1 << 15, "512 consecutive devices are more than 255"),
    ]
    for image, forms, first, device, message in cases:
        with pytest.raises(ProjectError) as caught:
            _write(tmp_path, image, forms, device, first=first)
        assert message in str(caught.value)


@pytest.mark.parametrize(
    ("table", "target", "message"),
    [
        ("forms = []", "basalt32", "[burn] forms: is empty"),
        ('forms = ["whole", "whole"]', "basalt32", "whole is there twice"),
        ('forms = ["even-odd"]\ndevice = "4 MiB"', "basalt32", "no device of 4 MiB is known for even-odd"),
        ('forms = ["odd"]', "basalt32", "[burn] forms"),
        ('forms = ["whole"]\naddresses = "as the console sees it"', "pebble8", "through a window"),
    ],
)
def test_wrong_tables_are_refused(tmp_path, table, target, message):
    """Each with place and remedy."""
    folder = make_project(tmp_path / "p", target=target)
    write_text(folder, project_text(target=target, more=f"[burn]\n{table}\n"))
    assert any(message in one for one in problems(folder)), problems(folder)
