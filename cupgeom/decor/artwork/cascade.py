"""The cascade: presentation attributes, style sheets, style attributes, in the order in which they overrule each other.

Order: CSS Cascade, and SVG 1.1 (second edition) 6.4: a presentation attribute counts as the weakest rule.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork.limits import MOST_SELECTORS, MOST_STYLE_WORK, Budget
from cupgeom.decor.artwork.notices import Notices
from cupgeom.decor.artwork.style import PROPERTIES, Style, derived, parse_declaration
from cupgeom.decor.artwork.tree import Tree
from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    from cssselect2 import ElementWrapper, Matcher

_PLAIN = re.compile(r"""(?:[^"'\\*!@{}()]|\([^"'\\*!@{}();:]*+\)|"[^"\\*!@{}();:]*+"|'[^'\\*!@{}();:]*+')*+""")
_LONGEST_SELECTOR = 1000  # characters
_SIBLINGS = re.compile(r"[:~+]")

Declaration = tuple[str, str, bool]  # property, value, whether important


class Cascade:
    """What is declared for each element of a tree."""

    def __init__(self, tree: Tree, budget: Budget, notices: Notices) -> None:
        self._tree, self._budget, self._notices = tree, budget, notices
        self._declared: dict[Element, dict[str, Any]] = {}
        self._in_place: dict[Element, Style] = {}
        self._attributes: dict[str, list[Declaration]] = {}
        self._values: dict[tuple[str, str], tuple[tuple[str, Any], ...] | None] = {}
        self._selectors = 0
        self._matcher: Matcher | None = None
        self._wrappers: dict[Element, ElementWrapper] = {}
        if any(sheet.strip() for sheet in tree.sheets):
            self._read_sheets()

    def style(self, element: Element, parent: Style) -> Style:
        """The style of an element drawn inside something of the style `parent`."""
        return derived(parent, self._declarations(element))

    def in_place(self, element: Element) -> Style:
        """The style of an element where it stands in the file."""
        if element not in self._in_place:
            parent = self._tree.parents.get(element)
            outer = Style() if parent is None else self.in_place(parent)
            self._in_place[element] = self.style(element, outer)
        return self._in_place[element]

    def _declarations(self, element: Element) -> dict[str, Any]:
        if element not in self._declared:
            self._declared[element] = self._declare(element)
        return self._declared[element]

    def _declare(self, element: Element) -> dict[str, Any]:
        weak = [(name, text, False) for name, text in element.attrib.items() if name in PROPERTIES]
        if self._matcher:
            for _, _, pseudo, payload in self._matcher.match(self._wrappers[element]):
                weak.extend(payload if pseudo is None else ())
        if text := element.get("style"):
            if text not in self._attributes:
                self._attributes[text] = list(self._attribute(text))
            weak.extend(self._attributes[text])
        declared: dict[str, Any] = {}
        for wanted in (False, True):
            for name, text, important in weak:
                if important == wanted:
                    self._set(declared, element, name, text)
        return declared

    def _set(self, declared: dict[str, Any], element: Element, name: str, text: str) -> None:
        key = (name, text)
        if key not in self._values:
            self._values[key] = parse_declaration(name, text)
        values = self._values[key]
        if values is not None:
            declared.update(values)
        elif text.strip():
            what = f"has {name} {text.strip()[:40]!r}, which is not understood and left out"
            self._notices.add(self._tree.label(element), what)

    def _attribute(self, text: str) -> Iterator[Declaration]:
        if _PLAIN.fullmatch(text):
            self._budget.style(len(text) // 10)
            for part in text.split(";"):
                name, joint, value = part.partition(":")
                if joint:
                    yield name.strip().lower(), value.strip(), False
        else:
            self._budget.style(len(text))
            yield from _declarations(text)

    def _read_sheets(self) -> None:
        from cssselect2 import ElementWrapper, Matcher

        self._matcher = Matcher()
        size, work = len(self._tree.lines), 0
        for sheet in self._tree.sheets:
            self._budget.style(len(sheet))
            work += self._read_sheet(sheet, self._matcher, size)
        if work > MOST_STYLE_WORK:
            raise CupgeomError("", "has style sheets with too many selectors for so many elements")
        for wrapper in ElementWrapper.from_xml_root(self._tree.root).iter_subtree():
            self._wrappers[wrapper.etree_element] = wrapper

    def _read_sheet(self, sheet: str, matcher: Matcher, size: int) -> int:
        """Add the rules of one sheet; how many trials they may cost for so many elements."""
        from cssselect2 import SelectorError, compile_selector_list
        from tinycss2 import parse_stylesheet, serialize

        work = 0
        for rule in parse_stylesheet(sheet, skip_comments=True, skip_whitespace=True):
            if rule.type == "at-rule":
                self._pass_over(rule.lower_at_keyword)
                continue
            text = serialize(rule.prelude).strip() if rule.type == "qualified-rule" else ""
            try:
                selectors = compile_selector_list(rule.prelude) if 0 < len(text) <= _LONGEST_SELECTOR else []
            except (SelectorError, SyntaxError, MemoryError):  # the last two where brackets nest too deep to compile
                selectors = []
            self._selectors += len(selectors)
            if self._selectors > MOST_SELECTORS:
                raise CupgeomError("", f"has style sheets of more than {MOST_SELECTORS} selectors")
            if not selectors:
                self._notices.add("", f"has a style rule for {text[:40]!r}, which is not understood and left out")
            payload = list(_declarations(rule.content)) if selectors else []
            for selector in selectors:
                matcher.add_selector(selector, payload)
            work += len(selectors) * (size * size if _SIBLINGS.search(text) else size)
        return work

    def _pass_over(self, keyword: str) -> None:
        if keyword == "import":
            mend = "put the style sheet into a style element"
            self._notices.add("", "asks for a style sheet in another file, which is never read", mend)
        elif keyword not in ("charset", "namespace", "font-face"):
            self._notices.add("", f"has style rules under @{keyword[:40]}, which are left out")


def _declarations(content: Any) -> Iterator[Declaration]:
    from tinycss2 import parse_blocks_contents, serialize

    for item in parse_blocks_contents(content, skip_comments=True, skip_whitespace=True):
        if item.type == "declaration":
            yield item.lower_name, serialize(item.value).strip(), item.important
