"""The notice as a photo of a television, in the proofs and in the report; zxing-cpp reads it."""

from __future__ import annotations

import io

import zxingcpp
from PIL import Image

from pipeline.joints.facts import Margins, ScreenFacts, TvMargins, read_facts
from pipeline.joints.places import facts_file
from pipeline.proofs.kinds.screen import television
from pipeline.report.page import _kind_text
from tests.made_facts import made_facts
from tests.report.making import build, subject


def test_the_photo_shown_reads_and_stands_in_the_report(tmp_path):
    """An independent reader finds both links in the picture; the report shows it beside the plain one and gives the margin."""
    project = build(tmp_path, more="", televisions=True)
    facts = read_facts(facts_file(tmp_path / "build/blobs", "boot"), ScreenFacts)
    made = television(subject(project, "boot"))
    assert (tmp_path / "build/proofs/boot.tv.png").read_bytes() == made
    picture = Image.open(io.BytesIO(made))
    assert picture.size == (640 + 2 * (640 // 12), 480 + 2 * (480 // 12))
    assert {code.text for code in zxingcpp.read_barcodes(picture)} == {code.link for code in facts.codes}
    page = (tmp_path / "build/report.html").read_text(encoding="utf-8")
    assert page.count('alt="boot as a model of an old television photographed with a phone shows it"') == 1
    assert facts.tv is not None
    assert f"read down to {facts.tv.bandwidth} % of the usual bandwidth" in page
    assert f"with the screen down to {facts.tv.photo} pixels wide in the photo" in page


def test_what_is_said_of_a_margin():
    """The least that is tried is marked as that; a screen of too many lines is said not to be one for composite video."""
    tv = TvMargins(bandwidth=30, photo=400, tried=Margins(bandwidth=30, photo=250))
    text = _kind_text(made_facts(ScreenFacts, tv=tv), {})
    assert "30 % of the usual bandwidth, the least tried, and with the screen down to 400 pixels wide in the photo" in text
    assert text.endswith("in the photo")
    assert _kind_text(made_facts(ScreenFacts), {}).endswith("3 pixels a module; too many lines for composite video")
