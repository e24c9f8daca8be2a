"""A page as a reader takes it in: its words, the rows of its lists, where links lead."""

import html
import re

_ROW = re.compile(r"<tr\b.*?</tr>", re.DOTALL)
_CELL = re.compile(r'<td[^>]*?data-label="([^"]*)"[^>]*>(.*?)</td>', re.DOTALL)
_LINK = re.compile(r'<a\b[^>]*?href="([^"]*)"[^>]*>(.*?)</a>', re.DOTALL)


def plain(markup):
    """The words of some markup, on one line, without those inside its drawings."""
    text = re.sub(r"<[^>]+>", " ", re.sub(r"<svg\b.*?</svg>", " ", markup, flags=re.S))
    return re.sub(r" ([.,;:])", r"\1", " ".join(html.unescape(text).split()))


def words(answer):
    """The words of a page's main part."""
    return plain(main(answer))


def main(answer):
    """The markup of a page's main part."""
    text = answer.content.decode()
    return text[text.index("<main") : text.index("</main>")]


def part(answer, name):
    """The markup from the element with an id to the end of its section."""
    text = main(answer)
    begin = text.index(f'id="{name}"')
    return text[begin : text.index("</section>", begin)]


def rows(markup):
    """The rows of the lists in some markup: the words of each cell by its heading."""
    found = [dict(_CELL.findall(row)) for row in _ROW.findall(markup)]
    return [
        {html.unescape(name): plain(cell) for name, cell in row.items()}
        for row in found
        if row
    ]


def links(markup):
    """Where the links in some markup lead, in order: pairs of words and address."""
    return [
        (plain(inside), html.unescape(href)) for href, inside in _LINK.findall(markup)
    ]
