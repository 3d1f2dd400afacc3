"""The served page. Common practice, no source, where nothing else is named."""

from __future__ import annotations

import os

from pipeline.watching.known import BUILDING, FAILED, State
from pipeline.watching.page import make_page, name_of


def test_page_without_a_report_says_so(tmp_path):
    """Before the first build."""
    page = make_page(tmp_path / "report.html", State(0, BUILDING, "", ""), "n").decode()
    assert "No report yet" in page
    assert 'data-build="building"' in page
    assert name_of(tmp_path / "report.html") == ""


def test_what_failed_is_escaped_and_the_report_is_the_rest(tmp_path):
    """HTML: text holds no tag once < and & are written as references. Only the last </body> of a page is its end."""
    report = tmp_path / "report.html"
    report.write_text("<html><head><title>t</title></head><body><p>a &lt;/body&gt;</p></body></html>\n")
    page = make_page(report, State(1, FAILED, "</pre><script>x</script>", name_of(report)), "n").decode()
    assert "&lt;/pre&gt;&lt;script&gt;x&lt;/script&gt;" in page
    assert page.count("<script") == 1
    assert "<p>a &lt;/body&gt;</p>" in page
    assert page.endswith("</body></html>\n")


def test_another_report_has_another_name(tmp_path):
    """A report of the same size and time, but another file, is another one."""
    report = tmp_path / "report.html"
    report.write_text("one")
    names = {name_of(report)}
    known = report.stat()
    (tmp_path / "new").write_text("two")
    os.utime(tmp_path / "new", ns=(known.st_atime_ns, known.st_mtime_ns))
    os.replace(tmp_path / "new", report)
    names.add(name_of(report))
    assert len(names) == 2
