"""A canvas that tags what is drawn (ISO 32000-1, 14.7 and 14.8), so that a screen reader reads it in order and knows what it is.

What is drawn between ``begin`` and ``end`` belongs to an element of the document's structure; all else, such as rules, tints and the foot
of a page, is an artifact. Elements inside a leaf, such as the labels of a drawn pad, are part of it. On other canvases nothing is tagged.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from xml.sax.saxutils import escape

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFObjectReference, PDFStream, PDFString
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable
from reportlab.platypus import Image as _Image
from reportlab.platypus import Paragraph as _Paragraph

_LEAVES = {"P", "H1", "H2", "Lbl", "LBody", "Figure", "Span"}
_ARTIFACT = "/Artifact BMC"
_ROOT = "StructTreeRoot"


@dataclass(eq=False)
class Element:
    """A node of the structure.

    Attributes:
        role: a standard structure type (14.8.4).
        kids: elements, (page, number of the marked content) or, of annotations, (page, name).
        alt: what a figure shows, in words.
        scope: of a table's head, ``Column`` or ``Row``.
        box: of a figure: left, bottom, right and top on its page in points.
    """

    role: str
    parent: Element | None = None
    alt: str = ""
    scope: str = ""
    box: tuple[float, ...] = ()
    kids: list[Any] = field(default_factory=list)

    def add(self, role: str, **more: Any) -> Element:
        """Return a new last kid."""
        self.kids.append(kid := Element(role, self, **more))
        return kid


class TaggedCanvas(Canvas):
    """The canvas of a packet."""

    _code: Any  # the library's types leave these two out
    _doc: Any

    def __init__(self, *args: Any, **keys: Any) -> None:
        super().__init__(*args, **keys)
        self.top = Element("Document")
        self._here = self._section = self.top
        self._leaf: Element | None = None
        self._marked: dict[int, list[Element]] = {}  # page -> the element of each of its marked contents
        self._linked: list[tuple[Element, Any]] = []  # the element and the dictionary of each annotation
        self._hushed = self._bullet = False
        self._said = ""
        add = self._doc.addPage
        self._doc.addPage = lambda page: add(self._with_parents(page))  # no page of the library says where its structure is

    def begin_item(self, text: str) -> Element | None:
        """Begin an item of a list, whose bullet is drawn first; end it with ``end_item``."""
        item = self.begin("LI")
        self._bullet, self._item_text = item is not None, text
        return item

    def end_item(self, item: Element | None) -> None:
        """End an item and its text."""
        if item is not None:
            self._bullet = False
            self.end(self._leaf)
            self.end(item)

    def drawText(self, aTextObject: Any) -> None:  # noqa: N802,N803 - the library's names
        if not self._bullet:
            super().drawText(aTextObject)
            return
        self._bullet = False
        label = self.begin("Lbl")
        super().drawText(aTextObject)
        self.end(label)
        self.begin("LBody", self._item_text)

    def section(self) -> None:
        """Begin a section of the document; the one before ends."""
        self._here = self._section = self.top.add("Sect")

    def begin(self, role: str, text: str = "", **more: Any) -> Element | None:
        """Begin an element; return it for ``end``, or None where it is part of a leaf or of an artifact."""
        if self._leaf or self._hushed:
            return None
        parent = self._list_for(role)
        element = parent.add(role, **more)
        self._here = element
        if role in _LEAVES:
            marked = self._marked.setdefault(self.getPageNumber(), [])
            element.kids.append((self.getPageNumber(), len(marked)))
            self._mark(f"/{role} <</MCID {len(marked)}>> BDC")
            marked.append(element)
            self._leaf, self._said = element, text or more.get("alt", "")
        return element

    def end(self, element: Element | None) -> None:
        """End an element that ``begin`` returned."""
        if element is None:
            return
        if element is self._leaf:
            self._mark(_ARTIFACT)
            self._leaf = None
        parent = element.parent or self.top
        self._here = parent.parent or self.top if parent.role == "L" else parent

    def resume(self, element: Element) -> None:
        """Go on with an element that has ended."""
        self._here = element

    def hush(self, on: bool) -> None:
        """Let what is drawn from now on be an artifact, such as a head that is set again, or no longer."""
        self._hushed = on

    def _list_for(self, role: str) -> Element:
        """Return what a new element belongs to: of an item the list that the item before is in, or a new one."""
        if role != "LI":
            return self._here
        last = self._here.kids[-1] if self._here.kids else None
        return last if isinstance(last, Element) and last.role == "L" else self._here.add("L")

    def _mark(self, operator: str) -> None:
        self._code += ["EMC", operator]

    def _addAnnotation(self, annotation: Any, name: Any = None, addtopage: int = 1) -> None:  # noqa: N802,N803 - the library's names
        name = name or f"T{len(self._linked)}"
        parent = len(self._linked)
        if isinstance(annotation, PDFDictionary):
            annotation["StructParent"] = parent
            kind = "Form" if annotation.dict["Subtype"] == PDFName("Widget") else "Link"
            if kind == "Link":
                annotation["Contents"] = PDFString(self._said if self._leaf else "")
        else:
            kind = "Link"
            annotation.permitted = (*annotation.permitted, "StructParent")
            annotation.otherkw["StructParent"] = parent
            annotation.Contents = self._said if self._leaf else ""
        element = self._link_in(self._leaf) if kind == "Link" and self._leaf else self._here.add(kind)
        element.kids.append((self.getPageNumber(), name))
        self._linked.append((element, annotation))
        super()._addAnnotation(annotation, name, addtopage)  # pyright: ignore[reportAttributeAccessIssue] (the library's types leave it out)

    def _link_in(self, leaf: Element) -> Element:
        """Return the link that the whole of a leaf is; a figure is inside of it, since a link has no words for what is seen."""
        if leaf.parent and leaf.parent.role == "Link":
            return leaf.parent
        link = next((kid for kid in leaf.kids if isinstance(kid, Element)), None)
        if link is None:
            own = list(leaf.kids)
            leaf.kids.clear()
            link = leaf.add("Link")
            link.kids += own
            page, number = own[0]
            self._marked[page][number] = link
        return link

    def showPage(self) -> None:  # noqa: N802 - the library's name
        code = self._code
        code.insert(0, _ARTIFACT)
        code.append("EMC")
        self._code = [one for one, kept in zip(code, _painting(code), strict=True) if kept]
        super().showPage()

    def _with_parents(self, page: Any) -> Any:
        page.__NoDefault__ = [*page.__NoDefault__, "StructParents", "Tabs"]
        # After the numbers of annotations, of which there are fewer.
        page.StructParents, page.Tabs = _PAGES + self.getPageNumber(), PDFName("S")
        return page

    def save(self) -> None:
        """Write the document, its structure at the end."""
        self._add_structure()
        super().save()

    def _add_structure(self) -> None:
        names: dict[Element, str] = {}
        for element in _all(self.top):
            names[element] = f"struct-{len(names)}"
        for element, name in names.items():
            self._doc.Reference(self._element(element, names), name)
        refer = {element: PDFObjectReference(name) for element, name in names.items()}
        numbers: list[Any] = []
        for rank, (element, _) in enumerate(self._linked):
            numbers += [rank, refer[element]]
        for page, marked in sorted(self._marked.items()):
            numbers += [_PAGES + page, PDFArray([refer[element] for element in marked])]
        tree = {"Type": PDFName(_ROOT), "K": PDFArray([refer[self.top]]), "ParentTree": PDFDictionary({"Nums": PDFArray(numbers)})}
        tree["ParentTreeNextKey"] = _PAGES + self.getPageNumber() + 1
        self._doc.Catalog.StructTreeRoot = self._doc.Reference(PDFDictionary(tree), _ROOT)
        self._doc.Catalog.MarkInfo = PDFDictionary({"Marked": "true"})
        self._doc.Catalog.Metadata = self._metadata()

    def _element(self, element: Element, names: dict[Element, str]) -> PDFDictionary:
        parent = names[element.parent] if element.parent else _ROOT
        keys: dict[str, Any] = {"S": PDFName(element.role), "P": PDFObjectReference(parent)}
        if element.alt:
            keys["Alt"] = PDFString(element.alt)
        if element.scope:
            keys["A"] = PDFDictionary({"O": PDFName("Table"), "Scope": PDFName(element.scope)})
        if element.box:
            keys["A"] = PDFDictionary({"O": PDFName("Layout"), "BBox": PDFArray([round(edge, 2) for edge in element.box])})
        # Each is drawn on one page: what goes on on the next is an element of its own there, but for tables, which hold no content.
        page = next((kid[0] for kid in element.kids if not isinstance(kid, Element)), None)
        if page is not None:
            keys["Pg"] = PDFObjectReference(f"Page{page}")
        kids = [self._kid(kid, names) for kid in element.kids]
        keys["K"] = kids[0] if len(kids) == 1 else PDFArray(kids)
        return PDFDictionary(keys)

    def _kid(self, kid: Any, names: dict[Element, str]) -> Any:
        if isinstance(kid, Element):
            return PDFObjectReference(names[kid])
        if isinstance(kid[1], int):
            return kid[1]
        return PDFDictionary({"Type": PDFName("OBJR"), "Obj": self._doc.refAnnotation(kid[1])})

    def _metadata(self) -> PDFStream:
        """Return the title as XMP, where readers for the blind look first (ISO 16684-1)."""
        title = escape(str(self._doc.info.title))
        packet = (
            '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
            '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" '
            'xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title><rdf:Alt><rdf:li xml:lang="x-default">'
            f'{title}</rdf:li></rdf:Alt></dc:title></rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="r"?>'
        )
        kind = PDFDictionary({"Type": PDFName("Metadata"), "Subtype": PDFName("XML")})
        return PDFStream(kind, packet.encode(), filters=[])


_PAGES = 1 << 20  # keys of pages in the parent tree begin here


def _painting(code: list[str]) -> list[bool]:
    """Say of each line of a page's code whether it stays: an artifact in which nothing is drawn goes."""
    kept = [True] * len(code)
    for at in range(len(code) - 1):
        if code[at] == _ARTIFACT and code[at + 1] == "EMC":
            kept[at] = kept[at + 1] = False
    return kept


def _all(element: Element) -> Iterator[Element]:
    yield element
    for kid in element.kids:
        if isinstance(kid, Element):
            yield from _all(kid)


@contextmanager
def tagged(canvas: Any, role: str, text: str = "", **more: Any) -> Iterator[None]:
    """Let what is drawn be an element, on a canvas that tags."""
    if not isinstance(canvas, TaggedCanvas):
        yield
        return
    element = canvas.begin(role, text, **more)
    yield
    canvas.end(element)


def box_of(canvas: Any, x: float, y: float, width: float, height: float) -> tuple[float, ...]:
    """Return left, bottom, right and top on the page of what is drawn at a place."""
    return (*canvas.absolutePosition(x, y), *canvas.absolutePosition(x + width, y + height))


class Paragraph(_Paragraph):
    """A paragraph, or with a bullet an item of a list."""

    role = "P"

    def drawOn(self, canvas: Any, x: float, y: float, _sW: float = 0) -> None:  # noqa: N802,N803 - the library's names
        if not isinstance(canvas, TaggedCanvas):
            super().drawOn(canvas, x, y, _sW)  # pyright: ignore[reportCallIssue] (the library's types leave one out)
            return
        self._space_lines()
        if self.bulletText:
            item = canvas.begin_item(self.getPlainText())
            super().drawOn(canvas, x, y, _sW)  # pyright: ignore[reportCallIssue] (the library's types leave one out)
            canvas.end_item(item)
            return
        with tagged(canvas, self.role, self.getPlainText()):
            super().drawOn(canvas, x, y, _sW)  # pyright: ignore[reportCallIssue] (the library's types leave one out)

    def _space_lines(self) -> None:
        """End each line with the space at which it was parted: else its last word and the next one are read as one."""
        lines: Any = getattr(self, "blPara", None)
        if lines is None or lines.kind or len(self.frags) != 1:
            return
        whole = self.frags[0]
        text, at = " ".join(whole.text.split() if hasattr(whole, "text") else whole.words), 0  # of a part that was split off, words
        for rank, (room, words) in enumerate(lines.lines):
            at += len(" ".join(words))
            if text[at : at + 1] == " ":
                lines.lines[rank] = (room, [*words, ""])
                at += 1


class Image(_Image):
    """A picture with words for those who do not see it."""

    alt = ""

    def drawOn(self, canvas: Any, x: float, y: float, _sW: float = 0) -> None:  # noqa: N802,N803 - the library's names
        with tagged(canvas, "Figure", alt=self.alt, box=box_of(canvas, x, y, self.drawWidth, self.drawHeight)):
            super().drawOn(canvas, x, y, _sW)  # pyright: ignore[reportCallIssue] (the library's types leave one out)


class Figure(Flowable):
    """A flowable that is drawn as one figure."""

    alt = ""

    def drawOn(self, canvas: Any, x: float, y: float, _sW: float = 0) -> None:  # noqa: N802,N803 - the library's names
        with tagged(canvas, "Figure", alt=self.alt, box=box_of(canvas, x, y, self.width, self.height)):
            super().drawOn(canvas, x, y, _sW)  # pyright: ignore[reportCallIssue] (the library's types leave one out)
