"""Report pages of packets, filled in by pikepdf, by pypdf, and by qpdf's JSON (qpdf manual, "qpdf JSON"), and read like rows."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
import zlib
from pathlib import Path

import pikepdf
import pypdf
import pytest
from msgspec import structs

from pipeline.packet.document import write_packet
from pipeline.plain.errors import BadAnswer, ProjectError
from tests.conftest import need_tool, only_long
from tests.intake.makers import BUGS, FORMS, GAME, ISSUES, bugs_csv, drop, kept, kept_files, project, read, take_in
from tests.release.making import BUILD, DATE, make_spec, packet_files

FILLED = {
    "date": "2026-03-01", "where": "Łódź, second cliff", "issue": "TF-007", "expected": "First line\nsecond line",
    "seen": "Привет Ωμέγα 隼 ½", "steps": "A, B, A", "counted": "3 of 5", "console": "Mark II", "cartridge": "no", "screen": "(a) \\ tube",
}  # fmt: skip
TICKED = ("often_2", "severity_major", "pad_1")
ALL = {
    "what": "Привет Ωμέγα 隼 ½", "build": BUILD, "version": "0.3.1", "time": "2026-03-01", "where": "Łódź, second cliff", "known": "TF-007",
    "expected": "First line\nsecond line", "steps": "A, B, A", "severity": "major", "often": "sometimes", "counted": "3 of 5",
    "console": "Mark II", "cartridge": "no", "screen": "(a) \\ tube", "at": "2026-03-01", "page": "yes", "id": "R-0001", "tester": 1,
}  # fmt: skip


@pytest.fixture(scope="module")
def packets(tmp_path_factory) -> dict[str, Path]:
    """A tester's own packet and everybody's."""
    found = {}
    for name in ("T3", ""):
        folder = tmp_path_factory.mktemp("packet")
        found[name] = folder / "packet.pdf"
        write_packet(*packet_files(folder), make_spec(), DATE, "Basalt 32", found[name], None, "kest.rom", tester=name)
    return found


def with_pikepdf(packet: Path, out: Path, texts: dict[str, str] = FILLED, ticks: tuple[str, ...] = TICKED, **options) -> Path:
    with pikepdf.open(packet) as pdf:
        for one in pdf.Root.AcroForm.Fields:
            name = str(one.T)
            if name in texts:
                one.V = pikepdf.String(texts[name])
            if name in ticks:
                one.V = one.AS = pikepdf.Name.Yes
        pdf.save(out, **options)
    return out


def with_pypdf(packet: Path, out: Path) -> Path:
    writer = pypdf.PdfWriter(clone_from=packet)
    writer.update_page_form_field_values(None, FILLED | dict.fromkeys(TICKED, "/Yes"), auto_regenerate=False)
    writer.write(out)
    return out


def with_qpdf(packet: Path, out: Path) -> Path:
    """Change the values in qpdf's JSON form of the file, in which a text begins with ``u:``, and let qpdf write it again."""
    tool = need_tool("qpdf")
    text = subprocess.run([tool, "--json-output", "--json-stream-data=inline", str(packet), "-"], check=True, capture_output=True).stdout
    data = json.loads(text)
    for thing in data["qpdf"][1].values():
        field = thing.get("value") if isinstance(thing, dict) else None
        name = field.get("/T", "")[2:] if isinstance(field, dict) else ""
        if name in FILLED:
            field["/V"] = f"u:{FILLED[name]}"
        if name in TICKED:
            field["/V"] = field["/AS"] = "/Yes"
    (out.parent / f"{out.name}.json").write_text(json.dumps(data))
    subprocess.run([tool, "--json-input", str(out.parent / f"{out.name}.json"), str(out)], check=True, capture_output=True)
    (out.parent / f"{out.name}.json").unlink()
    return out


def take(folder: Path, csv: Path, intake=FORMS, form: str = "") -> str:
    return take_in(*kept_files(folder), intake, ISSUES, GAME, {}, csv, form)


@pytest.mark.parametrize("fill", [with_pikepdf, with_pypdf, with_qpdf])
def test_every_field_arrives(tmp_path, packets, fill):
    """In any letters, with the build code and the tester's number, whichever program filled it in; again, it adds nothing."""
    folder = project(tmp_path)
    (folder / "sent").mkdir()
    fill(packets["T3"], folder / "sent/page.PDF")
    assert take(folder, folder / "sent").splitlines()[0] == "1 filled page, 1 new"
    pad = kept(folder)[0].pop("pad")
    assert pad
    assert kept(folder) == [ALL | {"pad": pad}]
    assert json.loads((folder / "reports/testers.json").read_bytes())["testers"] == [{"number": 1, "tester": "T3"}]
    assert take(folder, folder / "sent/page.PDF").splitlines()[0] == "1 filled page, 0 new"
    assert "Steps: <bdi>A, B, A</bdi>" in (folder / "build/triage.html").read_text(encoding="utf-8")


def test_one_tester_is_one_whether_by_page_or_by_export(tmp_path, packets):
    """The number of the author's list; exports and pages each keep their own fields, and neither takes from the other."""
    folder = project(tmp_path)
    (folder / "reports").mkdir()
    (folder / "reports/testers.toml").write_text('[[tester]]\nnumber = 3\nname = "Mara Quill"\n')
    (folder / "sent").mkdir()
    with_pikepdf(packets["T3"], folder / "sent/a.pdf")
    with_pikepdf(packets["T3"], folder / "sent/b.pdf", {"seen": "It hums", "date": "Tuesday"}, ())
    assert "2 filled pages, 2 new" in take(folder, folder / "sent")
    row = {"time": "2026-03-05 10:00", "what": "It hangs", "tester": "Mara Quill", "where": "Quay"}
    for again in range(2):
        assert f"1 row of the bugs form, {1 - again} new" in read(folder, bugs_csv(row))
        assert "2 filled pages, 0 new" in take(folder, folder / "sent")
    assert [(one["tester"], one.get("steps")) for one in kept(folder)] == [(3, "A, B, A"), (3, None), (3, None)]
    with_pikepdf(packets["T3"], folder / "sent/b.pdf", {"seen": "It hums and buzzes", "date": "Tuesday"}, ())
    assert "2 filled pages, 0 new, 1 edited since" in take(folder, folder / "sent")
    assert kept(folder)[1]["former"] == [{"what": "It hums"}]


def test_files_that_are_no_filled_page_are_each_reported(tmp_path, packets):
    """Damaged, foreign, empty, encrypted, blank, no PDF: each with its name and what to do; exports and good pages beside them are read."""
    folder = project(tmp_path)
    sent = folder / "sent"
    (sent / "inside").mkdir(parents=True)
    with_pikepdf(packets["T3"], sent / "good.pdf")
    with_pikepdf(packets[""], sent / "inside/good too.pdf", {"seen": "It hums"}, ())
    (sent / "bugs.csv").write_bytes(bugs_csv({"what": "It hangs", "tester": "Anna"}))
    (sent / "bad.csv").write_bytes(b"a,b\n1,2\n")
    (sent / "notes.docx").write_bytes(b"PK")
    locked = pikepdf.Encryption(owner="o", user="u")
    with_pikepdf(packets["T3"], sent / "locked.pdf", encryption=locked)
    owned = pikepdf.Encryption(owner="o", user="")
    with_pikepdf(packets["T3"], sent / "open.pdf", {"seen": "Locked for changes only"}, (), encryption=owned)
    shutil.copy(packets[""], sent / "blank.pdf")
    (sent / "empty.pdf").write_bytes(b"")
    (sent / "text.pdf").write_bytes(b"dear author, it hangs")
    whole = (sent / "good.pdf").read_bytes()
    (sent / "head.pdf").write_bytes(whole[:900])
    with pikepdf.new() as other:
        other.add_blank_page()
        other.save(sent / "other.pdf")
        field = other.make_indirect(pikepdf.Dictionary(T=pikepdf.String("name"), FT=pikepdf.Name.Tx))
        other.Root.AcroForm = pikepdf.Dictionary(Fields=pikepdf.Array([field]))
        other.save(sent / "form.pdf")
        field.Kids = pikepdf.Array([field])  # its own kid
        other.save(sent / "circle.pdf")
    with pytest.raises(BadAnswer) as caught:
        take(folder, sent)
    said = str(caught.value)
    for line in (
        "3 filled pages, 3 new", "bugs.csv: 1 row of the bugs form, 1 new", "Not read, since neither CSV nor PDF: notes.docx",
        "bad.csv, line 1: no column", "locked.pdf: is encrypted, and opens with a password only", "blank.pdf: nothing is filled in",
        "empty.pdf: is empty, it has 0 bytes", "text.pdf: is not a PDF file", "head.pdf: ", "circle.pdf: is damaged",
        "other.pdf: has no fields at all: it is another document", "form.pdf: has no fields of a packet's report page",
        "Not read, or not as a whole:",
    ):  # fmt: skip
        assert line in said, said
    assert {one["what"] for one in kept(folder)} == {FILLED["seen"], "It hums", "It hangs", "Locked for changes only"}
    assert "It hums" in (folder / "build/triage.html").read_text(encoding="utf-8")
    with pytest.raises(ProjectError, match="is encrypted"):
        take(folder, sent / "locked.pdf")


def test_a_page_cut_short_or_changed_stops_nothing(tmp_path, packets):
    """Cut anywhere, or with bytes changed: read as far as it can be, or refused; the page beside it always arrives."""
    folder = project(tmp_path)
    (folder / "sent").mkdir()
    whole = with_pikepdf(packets["T3"], folder / "good.pdf").read_bytes()
    for rank in range(12):
        (folder / f"sent/cut{rank}.pdf").write_bytes(whole[: len(whole) * (rank + 1) // 13])
        at = len(whole) * rank // 12 + 5
        (folder / f"sent/changed{rank}.pdf").write_bytes(whole[:at] + b"<<(\xff" + whole[at + 4 :])
    with_pikepdf(packets["T3"], folder / "sent/good.pdf", FILLED | {"seen": "Still here"})
    with pytest.raises(BadAnswer):
        take(folder, folder / "sent")
    assert "Still here" in {one["what"] for one in kept(folder)}
    assert {one.get("build") for one in kept(folder)} <= {BUILD, None}


def test_pages_need_no_form_and_keep_what_the_project_keeps(tmp_path, packets):
    """Without [intake] all of a page is kept; keep leaves out what it does not name, also of pages kept before."""
    folder = project(tmp_path)
    with_pikepdf(packets["T3"], folder / "page.pdf")
    assert "1 filled page, 1 new" in take(folder, folder / "page.pdf", structs.replace(FORMS, bugs=None, feedback=None))
    assert kept(folder)[0]["console"] == "Mark II"
    few = structs.replace(FORMS, bugs=structs.replace(BUGS, keep=["what", "build"]))
    assert "1 filled page, 0 new" in take(folder, folder / "page.pdf", few)
    assert kept(folder) == [{"id": "R-0001", "what": FILLED["seen"], "build": BUILD, "page": "yes"}]


def test_a_folder_of_nothing_is_refused(tmp_path):
    folder = project(tmp_path)
    (folder / "sent").mkdir()
    with pytest.raises(ProjectError, match="the folder sent has no exports and no filled pages"):
        take(folder, folder / "sent")


def test_kids_streams_and_states_of_other_programs(tmp_path, packets):
    """ISO 32000-1, 12.7.3: a value may be a stream, a widget a kid of its field, keys inherited; a tick may be in its appearance alone."""
    folder = project(tmp_path)
    with pikepdf.open(packets["T3"]) as pdf:
        fields = {str(one.T): one for one in pdf.Root.AcroForm.Fields}
        fields["seen"].V = pdf.make_stream("\ufeffGrün\rbeeps".encode("utf-16-be"))
        owner = pdf.make_indirect(pikepdf.Dictionary(T=pikepdf.String("where"), FT=pikepdf.Name.Tx, V=pikepdf.String("Quay")))
        widget = fields["where"]
        del widget["/T"]
        widget.Parent, owner.Kids = owner, pikepdf.Array([widget])
        rest = [one for name, one in fields.items() if name != "where"]
        pdf.Root.AcroForm.Fields = pikepdf.Array([*rest, owner])
        del fields["severity_minor"]["/V"]
        fields["severity_minor"].AS = pikepdf.Name.Yes
        fields["often_1"].V = fields["often_3"].V = pikepdf.Name.Yes
        pdf.save(folder / "page.pdf")
    take(folder, folder / "page.pdf")
    wanted = {"what": "Grün\nbeeps", "where": "Quay", "severity": "minor", "often": "every time, once"}
    assert {key: kept(folder)[0][key] for key in wanted} == wanted


def test_a_small_file_that_grows_is_refused(tmp_path):
    """A stream of objects that unpacks to more than a file may have (zlib's best ratio is about 1000; RFC 1951), in little memory."""
    only_long()
    folder, out, offsets = project(tmp_path), io.BytesIO(b""), {}
    packer = zlib.compressobj(9)
    grows = packer.compress(b"5 0 <</Fields[]>>") + b"".join(packer.compress(bytes(1 << 20)) for _ in range(400)) + packer.flush()
    bodies = {
        1: b"<</Type/Catalog/Pages 2 0 R/AcroForm 5 0 R>>", 2: b"<</Type/Pages/Kids[]/Count 0>>",
        4: b"<</Type/ObjStm/N 1/First 4/Filter/FlateDecode/Length %d>>stream\n%b\nendstream" % (len(grows), grows),
    }  # fmt: skip
    out.write(b"%PDF-1.5\n")
    for number, body in bodies.items():
        offsets[number] = out.tell()
        out.write(b"%d 0 obj\n%b\nendobj\n" % (number, body))
    offsets[6] = out.tell()
    inside = {number: b"\1" + at.to_bytes(4, "big") + b"\0" for number, at in offsets.items()} | {5: b"\2\0\0\0\4\0"}
    table = b"".join(inside.get(number, bytes(6)) for number in range(7))
    head = b"<</Type/XRef/Size 7/W[1 4 1]/Root 1 0 R/Length %d>>" % len(table)
    out.write(b"6 0 obj\n%bstream\n%b\nendstream\nendobj\nstartxref\n%d\n%%%%EOF\n" % (head, table, offsets[6]))
    (folder / "page.pdf").write_bytes(out.getvalue())
    with pytest.raises(ProjectError, match="page.pdf: "):
        take(folder, folder / "page.pdf")
    code = "import sys; from pathlib import Path; from pipeline.intake.filled import read_pages; "
    # VmHWM (proc(5)) begins again with a new program, unlike ru_maxrss.
    code += "print(read_pages([(Path(sys.argv[1]), 'a')]).problems); print(Path('/proc/self/status').read_text().partition('VmHWM:')[2])"
    said = subprocess.run([sys.executable, "-c", code, str(folder / "page.pdf")], check=True, capture_output=True, text=True).stdout
    assert "Problem(file='a'" in said
    assert int(said.rpartition("]\n")[2].split()[0]) < 320 << 10  # KiB; unpacked it has 400 MiB


def test_a_person_is_removed_with_their_pages(tmp_path, packets):
    """The file of a page that lies under reports goes with the report made of it; others stay."""
    folder = project(tmp_path)
    (folder / "reports/sent").mkdir(parents=True)
    with_pikepdf(packets["T3"], folder / "reports/sent/a.pdf")
    with_pikepdf(packets[""], folder / "reports/sent/b.pdf", {"seen": "It hums", "tester": "Kofi"}, ())
    take(folder, folder / "reports/sent")
    said = drop(folder, "T3")
    assert "bugs.json: 1 report (R-0001)" in said
    assert "reports/sent/a.pdf" in said
    assert sorted(path.name for path in (folder / "reports/sent").iterdir()) == ["b.pdf"]
