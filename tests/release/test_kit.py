"""The kit, unpacked and checked by unzip and sha256sum, and read by Python's zipfile."""

from __future__ import annotations

import datetime
import hashlib
import io
import json
import os
import subprocess
import zipfile
import zlib
from pathlib import Path

import numpy as np
import pytest

from pipeline.joints.places import OwnFiles
from pipeline.packet.content.content import kit_stem
from pipeline.plain.errors import ProjectError
from pipeline.release.archive import packed, write_archive
from pipeline.release.kit import write_kit
from tests.conftest import need_tool
from tests.makers import budget_json
from tests.release.making import BUILD, DATE, IMAGE_BYTES, STEM, write_map

NAMES = [f"{STEM}.rom", f"{STEM}-packet.pdf", f"{STEM}-packet.html", f"{STEM}-notes.txt", "SHA256SUMS"]


def make_parts(folder: Path, margin: int = 100) -> dict:
    """Write what a kit is made of and return the arguments of ``write_kit``."""
    folder.mkdir(exist_ok=True)
    parts = {"image": IMAGE_BYTES, "packet": b"%PDF packet", "page": b"<!doctype html>", "notes": "Notes: Łódź\n".encode()}
    names = {"image": "kest.rom", "packet": "packet.pdf", "page": "packet.html", "notes": "NOTES.txt"}
    for key, data in parts.items():
        (folder / names[key]).write_bytes(data)
    scene = {"bytes": 4096 - margin, "margin": margin, "margin_now": margin}
    budget = budget_json({"dive": scene}, over=["dive"] if margin < 0 else [])
    (folder / "budget.json").write_text(json.dumps(budget))
    (folder / "advice.json").write_text(json.dumps({"changes": ["this saves 1 KiB", "that saves 12 bytes"] if margin < 0 else []}))
    return {
        **{key: folder / name for key, name in names.items()},
        "map_file": write_map(folder),
        "budget_file": folder / "budget.json",
        "advice_file": folder / "advice.json",
        "manifest": folder / "kit" / "kit.json",
        "code": "KEST",
        "version": "0.3.1",
        "date": DATE,
    }


def make_kit(folder: Path, **changed) -> Path:
    arguments = make_parts(folder) | changed
    said = write_kit(**arguments)
    kit = folder / "kit" / f"{STEM}.zip"
    assert said == f"{kit.name}, {kit.stat().st_size:,} bytes"
    return kit


def test_outside_programs_accept_the_kit(tmp_path):
    """unzip -t finds no fault, and sha256sum -c says OK to each of the four files in the unpacked folder."""
    kit = make_kit(tmp_path)
    subprocess.run([need_tool("unzip"), "-tq", str(kit)], check=True, capture_output=True)
    subprocess.run([need_tool("unzip"), "-q", str(kit), "-d", str(tmp_path / "out")], check=True)
    check = [need_tool("sha256sum"), "--strict", "-c", "SHA256SUMS"]
    done = subprocess.run(check, cwd=tmp_path / "out" / STEM, check=True, capture_output=True)
    assert done.stdout.decode().splitlines() == [f"{name}: OK" for name in NAMES[:4]]


def test_only_five_files_are_in_it(tmp_path):
    """Name, order, date, rights and method of each entry (reader: zipfile); nothing else of the disk gets in."""
    (tmp_path / "secret.txt").write_text("no")
    with zipfile.ZipFile(make_kit(tmp_path)) as archive:
        assert archive.testzip() is None
        entries = archive.infolist()
        assert archive.read(f"{STEM}/{STEM}.rom") == IMAGE_BYTES
    assert [entry.filename for entry in entries] == [f"{STEM}/{name}" for name in NAMES]
    for entry in entries:
        assert entry.date_time == (2031, 4, 9, 0, 0, 0)
        deflated = entry.filename.endswith((".rom", "SUMS"))  # the others are too short to shrink
        assert entry.compress_type == (zipfile.ZIP_DEFLATED if deflated else zipfile.ZIP_STORED)
        assert (entry.create_system, entry.external_attr) == (3, 0o100644 << 16)
        assert (entry.extra, entry.comment) == (b"", b"")


def test_same_parts_make_the_same_kit(tmp_path):
    """Times, rights and folders of the parts leave no trace."""
    first = make_kit(tmp_path / "one").read_bytes()
    arguments = make_parts(tmp_path / "two")
    for rank, key in enumerate(("image", "packet", "notes")):
        os.utime(arguments[key], (1e9 + rank * 1e6, 1e9 + rank * 1e6))
        arguments[key].chmod(0o600)
    write_kit(**arguments)
    assert (tmp_path / "two" / "kit" / f"{STEM}.zip").read_bytes() == first


@pytest.mark.parametrize(
    ("date", "seen"),
    [(None, (1980, 1, 1)), (datetime.date(1975, 5, 5), (1980, 1, 1)), (datetime.date(2200, 1, 1), (2107, 12, 31))],
)
def test_dates_a_zip_cannot_hold(tmp_path, date, seen):
    """A zip archive has years from 1980 to 2107 (APPNOTE 4.4.6, the date as in MS-DOS)."""
    with zipfile.ZipFile(make_kit(tmp_path, date=date)) as archive:
        assert {entry.date_time[:3] for entry in archive.infolist()} == {seen}


def test_manifest_names_the_kit_and_its_sum(tmp_path):
    """The build checks the kit by this file; SHA-256 from hashlib."""
    kit = make_kit(tmp_path)
    manifest = json.loads((tmp_path / "kit" / "kit.json").read_text())
    assert manifest == {"files": {kit.name: hashlib.sha256(kit.read_bytes()).hexdigest()}}


def test_other_kits_go_and_other_files_stay(tmp_path):
    """Names of the form this step gives are removed, whatever the code, which may have been another; every other name stays."""
    folder = tmp_path / "kit"
    folder.mkdir()
    stay = ["kest-0.3.0-AAAAAA.zip", "KEST-0.3-AAAAAA.zip", "KEST-for-print.zip", "KEST-0.3.0-AAAAAA.txt", "KEST-0.3.0-AAAAAA-T03.zip"]
    for name in [*stay, "KEST-0.3.0-AAAAAA.zip", "KEST-0.4.0-rc.1-BBBBBB.zip", "OTHER-0.3.0-AAAAAA.zip"]:
        (folder / name).write_bytes(b"x")
    kit = make_kit(tmp_path)
    assert sorted(path.name for path in folder.iterdir()) == sorted([*stay, kit.name, "kit.json"])


def test_no_kit_of_a_build_that_does_not_fit(tmp_path):
    """The refusal says which scene, by how much and what would help, and the last kit stays."""
    kit = make_kit(tmp_path)
    before = kit.read_bytes()
    with pytest.raises(ProjectError) as refusal:
        write_kit(**make_parts(tmp_path, margin=-1536))
    assert str(refusal.value) == (
        "budget.json: no kit of a build that does not fit its memory: dive needs 5.5 KiB at worst, 1.5 KiB OVER\n"
        "    what would help most, measured: this saves 1 KiB; that saves 12 bytes. See also: doit fit, doit savings"
    )
    assert kit.read_bytes() == before


def test_image_of_another_build_is_refused(tmp_path):
    """An image changed after its map was written never reaches a tester."""
    arguments = make_parts(tmp_path)
    arguments["image"].write_bytes(b"other")
    with pytest.raises(ProjectError) as refusal:
        write_kit(**arguments)
    assert str(refusal.value) == (
        "kest.rom: is not the image that map.json describes\n    build again; leave the build folder alone while it runs"
    )
    assert not (tmp_path / "kit").exists()


def test_names_say_game_version_and_build():
    """The same stem is printed in the packet."""
    assert kit_stem("KEST", "0.3.1", BUILD) == STEM


def test_each_tester_has_a_kit_with_their_own_packet(tmp_path):
    """The rest is the same, sha256sum says OK to it, and the manifest names all of it with the kit for everybody first."""
    arguments = make_parts(tmp_path)
    own = {f"T0{rank}": OwnFiles(tmp_path / f"{rank}.pdf", page=tmp_path / f"{rank}.html") for rank in (3, 4)}
    for name, theirs in own.items():
        theirs.packet.write_bytes(f"%PDF of {name}".encode())
        theirs.page.write_bytes(f"page of {name}".encode())
    said = write_kit(**arguments, own=own, remarks="2 cells open")
    assert said.endswith(" bytes, and 2 for testers in kit/testers; 2 cells open")
    names = [f"{STEM}.zip", f"testers/{STEM}-T03.zip", f"testers/{STEM}-T04.zip"]
    listed = json.loads(arguments["manifest"].read_text())["files"]
    assert list(listed) == names
    assert listed == {name: hashlib.sha256((tmp_path / "kit" / name).read_bytes()).hexdigest() for name in names}
    with zipfile.ZipFile(tmp_path / "kit" / names[0]) as plain, zipfile.ZipFile(tmp_path / "kit" / names[1]) as theirs:
        assert [name.replace("-T03/", "/") for name in theirs.namelist()] == plain.namelist()
        for name in theirs.namelist():
            same = theirs.read(name) == plain.read(name.replace("-T03/", "/"))
            assert same == (not name.endswith((".pdf", ".html", "SHA256SUMS")))
        assert theirs.read(f"{STEM}-T03/{STEM}-packet.pdf") == b"%PDF of T03"
        assert theirs.read(f"{STEM}-T03/{STEM}-packet.html") == b"page of T03"
        theirs.extractall(tmp_path / "out")
    check = [need_tool("sha256sum"), "--strict", "-c", "SHA256SUMS"]
    subprocess.run(check, cwd=tmp_path / "out" / f"{STEM}-T03", check=True, capture_output=True)


def test_kits_of_testers_who_are_no_more_go_and_other_files_stay(tmp_path):
    """Also those of an earlier build; what this step could not have named stays, and with it the folder."""
    arguments = make_parts(tmp_path)
    (tmp_path / "one.pdf").write_bytes(b"%PDF")
    own = dict.fromkeys(("T03", "T04"), OwnFiles(tmp_path / "one.pdf", page=tmp_path / "one.pdf"))
    write_kit(**arguments, own=own)
    folder = tmp_path / "kit/testers"
    (folder / "KEST-0.2.0-AAAAAA-T03.zip").write_bytes(b"old")
    (folder / "KEST-0.2.0-AAAAAA.zip").write_bytes(b"put there by hand")
    write_kit(**arguments, own={"T04": own["T04"]})
    assert sorted(path.name for path in folder.iterdir()) == ["KEST-0.2.0-AAAAAA.zip", f"{STEM}-T04.zip"]
    (folder / "KEST-0.2.0-AAAAAA.zip").unlink()
    write_kit(**arguments)
    assert not folder.exists()


def test_notes_of_their_own_take_the_place_of_everybodys(tmp_path):
    """For a tester who had another release last."""
    arguments = make_parts(tmp_path)
    for name in ("one.pdf", "one.txt"):
        (tmp_path / name).write_bytes(b"theirs")
    write_kit(**arguments, own={"T03": OwnFiles(tmp_path / "one.pdf", tmp_path / "one.txt")})
    with zipfile.ZipFile(tmp_path / f"kit/testers/{STEM}-T03.zip") as theirs, zipfile.ZipFile(tmp_path / f"kit/{STEM}.zip") as plain:
        assert theirs.read(f"{STEM}-T03/{STEM}-notes.txt") == b"theirs"
        assert plain.read(f"{STEM}/{STEM}-notes.txt") == "Notes: Łódź\n".encode()


def test_what_does_not_shrink_is_stored(tmp_path):
    """Random bytes; unzip and zipfile read both kinds, and the pinned package is the one whose bytes are recorded."""
    parts = make_parts(tmp_path)
    noise = np.random.default_rng(8).integers(0, 256, 5000, dtype=np.uint8).tobytes()
    parts["packet"].write_bytes(noise)
    write_kit(**parts)
    kit = tmp_path / "kit" / f"{STEM}.zip"
    with zipfile.ZipFile(kit) as archive:
        packet = archive.getinfo(f"{STEM}/{STEM}-packet.pdf")
        assert (packet.compress_type, packet.compress_size) == (zipfile.ZIP_STORED, 5000)
        assert archive.read(packet) == noise
        image = archive.getinfo(f"{STEM}/{STEM}.rom")
        assert image.compress_size < image.file_size // 10
    subprocess.run([need_tool("unzip"), "-tq", str(kit)], check=True, capture_output=True)


def test_deflated_bytes_are_those_of_every_machine():
    """The SHA-256 of 128 KiB deflated, as libdeflate 1.26 made them here, built without optimisation, for this processor's own
    instructions, and for a big-endian processor of 32 bits (MC68020, under QEMU): all the same."""
    steps = np.arange(1 << 17, dtype=np.uint64)
    data = ((steps * steps >> np.uint64(7)) % np.uint64(61)).astype(np.uint8).tobytes()
    one = packed(data)
    assert zlib.decompress(one.data, wbits=-15) == data
    assert hashlib.sha256(one.data).hexdigest() == "4cb81346ded720c3082911b76863af9f96a2f90278730ce4cd304511461b4ae4"


def test_an_archive_of_nothing_and_one_of_empty_files():
    """Both are read by zipfile."""
    for names in ((), ("a", "b/c")):
        out = io.BytesIO()
        write_archive(out, dict.fromkeys(names, packed(b"")), DATE)
        with zipfile.ZipFile(out) as archive:
            assert archive.testzip() is None
            assert archive.namelist() == [*names]
