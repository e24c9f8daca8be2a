"""A small display list: shapes as plain data, and their rendering as SVG."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pen:
    """How an outline is drawn: colour, width and dashes in points; no colour, no line."""

    colour: str = ""
    width: float = 1.0
    dash: tuple[float, ...] = ()


NO_PEN = Pen("")


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle, (x, y) its top left corner; y grows downwards."""

    x: float
    y: float
    width: float
    height: float
    pen: Pen = NO_PEN
    fill: str = ""
    radius: float = 0.0


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    pen: Pen


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle about (x, y)."""

    x: float
    y: float
    radius: float
    pen: Pen = NO_PEN
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Path:
    """
    One or more runs of points.

    Straight from point to point, or, where `curved`, each run is a starting point and
    then three points (two controls and an end) for every cubic curve.
    """

    runs: tuple[tuple[Point, ...], ...]
    pen: Pen = NO_PEN
    fill: str = ""
    closed: bool = False
    curved: bool = False

    def __post_init__(self) -> None:
        if self.curved and any(len(run) % 3 != 1 for run in self.runs):
            raise ValueError("a curved run has 1 + 3n points")


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text; (x, y) lies on its base line at the anchor."""

    x: float
    y: float
    words: str
    size: float = 13.0
    anchor: str = "start"  # start, middle or end
    fill: str = "#1b2330"
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """
    Shapes that belong together: a thing with a name, and where it leads to.

    `hit` is the area that answers to a finger; it is never drawn.
    """

    items: tuple["Item", ...]
    title: str = ""
    href: str = ""
    code: str = ""
    hit: Rect | None = None


Item = Rect | Line | Circle | Path | Text | Group


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on a sheet of a given size in points."""

    width: float
    height: float
    items: tuple[Item, ...]

    def shapes(self) -> Iterator[Item]:
        """Yield every shape in order of drawing, groups taken apart."""
        yield from _flat(self.items)

    def groups(self) -> Iterator[Group]:
        """Yield every group, outermost first."""
        yield from _groups(self.items)


def _flat(items: Iterable[Item]) -> Iterator[Item]:
    for item in items:
        if isinstance(item, Group):
            yield from _flat(item.items)
        else:
            yield item


def _groups(items: Iterable[Item]) -> Iterator[Group]:
    for item in items:
        if isinstance(item, Group):
            yield item
            yield from _groups(item.items)


def moved(item: Item, dx: float, dy: float) -> Item:
    """Return a shape, or a group with all that is in it, moved right and down."""
    match item:
        case Line():
            x1, y1, x2, y2 = item.x1 + dx, item.y1 + dy, item.x2 + dx, item.y2 + dy
            return replace(item, x1=x1, y1=y1, x2=x2, y2=y2)
        case Path():
            runs = tuple(tuple((x + dx, y + dy) for x, y in run) for run in item.runs)
            return replace(item, runs=runs)
        case Group():
            hit = item.hit and replace(item.hit, x=item.hit.x + dx, y=item.hit.y + dy)
            inner = tuple(moved(part, dx, dy) for part in item.items)
            return replace(item, items=inner, hit=hit)
        case _:
            return replace(item, x=item.x + dx, y=item.y + dy)


def to_svg(
    drawing: Drawing,
    *,
    title: str,
    desc: str = "",
    ident: str = "",
    css: str = "",
    fixed: bool = False,
) -> SafeString:
    """
    Render a drawing as SVG that a strict content policy lets pass: no style attributes.

    `title` is its name to a screen reader and `desc` a longer account. With `ident`,
    unique on the page, both get ids and are referred to; without it no ids are used.
    `fixed` keeps the natural size, otherwise the drawing fills its frame.
    """
    links = any(group.href for group in drawing.groups())
    head = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{escape(css or "drawing")}"',
        f' viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}"',
        f' role="{"group" if links else "img"}"',
        ' font-family="inherit"',
        *_size(drawing, fixed=fixed),
        *_name(title, desc, ident),
    ]
    body = "".join(_svg(item) for item in drawing.items)
    return mark_safe("".join(head) + body + "</svg>")  # noqa: S308  # escaped piecewise


def _size(drawing: Drawing, *, fixed: bool) -> Iterator[str]:
    if fixed:
        yield f' width="{_n(drawing.width)}" height="{_n(drawing.height)}"'
    else:
        yield ' width="100%"'


def _name(title: str, desc: str, ident: str) -> Iterator[str]:
    if not ident:
        yield f' aria-label="{escape(title)}">'
        yield f"<desc>{escape(desc)}</desc>" if desc else ""
        return
    described = f' aria-describedby="{escape(ident)}-desc"' if desc else ""
    yield f' aria-labelledby="{escape(ident)}-title"{described}>'
    yield f'<title id="{escape(ident)}-title">{escape(title)}</title>'
    if desc:
        yield f'<desc id="{escape(ident)}-desc">{escape(desc)}</desc>'


def _svg(item: Item) -> str:
    match item:
        case Rect():
            return _rect(item)
        case Line():
            ends = _attrs(x1=item.x1, y1=item.y1, x2=item.x2, y2=item.y2)
            return f"<line{ends}{_paint(item.pen, '')}/>"
        case Circle():
            place = _attrs(cx=item.x, cy=item.y, r=item.radius)
            return f"<circle{place}{_paint(item.pen, item.fill)}/>"
        case Path():
            return f'<path d="{_course(item)}"{_paint(item.pen, item.fill)}/>'
        case Text():
            return _text(item)
        case Group():
            return _group(item)


def _rect(rect: Rect) -> str:
    place = _attrs(x=rect.x, y=rect.y, width=rect.width, height=rect.height)
    radius = _attrs(rx=rect.radius) if rect.radius else ""
    return f"<rect{place}{radius}{_paint(rect.pen, rect.fill)}/>"


def _text(text: Text) -> str:
    anchor = "" if text.anchor == "start" else f' text-anchor="{escape(text.anchor)}"'
    weight = ' font-weight="700"' if text.bold else ""
    place = _attrs(x=text.x, y=text.y) + f' font-size="{_n(text.size)}"'
    fill = f' fill="{escape(text.fill)}"'
    return f"<text{place}{anchor}{weight}{fill}>{escape(text.words)}</text>"


def _group(group: Group) -> str:
    title = f"<title>{escape(group.title)}</title>" if group.title else ""
    code = f' data-position="{escape(group.code)}"' if group.code else ""
    inner = title + _hit(group.hit) + "".join(_svg(item) for item in group.items)
    if not group.href:
        return f"<g{code}>{inner}</g>"
    name = f' aria-label="{escape(group.title)}"' if group.title else ""
    return f'<a href="{escape(group.href)}"{name}{code}>{inner}</a>'


def _hit(hit: Rect | None) -> str:
    if hit is None:
        return ""
    place = _attrs(x=hit.x, y=hit.y, width=hit.width, height=hit.height)
    return f'<rect class="hit"{place} rx="4" fill="none" pointer-events="all"/>'


def _course(path: Path) -> str:
    end = "Z" if path.closed else ""
    return "".join(_run(run, curved=path.curved) + end for run in path.runs)


def _run(run: tuple[Point, ...], *, curved: bool) -> str:
    first, *rest = (f"{_n(x)},{_n(y)}" for x, y in run)
    return f"M{first}{'C' if curved else 'L'}{' '.join(rest)}"


def _paint(pen: Pen, fill: str) -> str:
    inside = f' fill="{escape(fill)}"' if fill else ' fill="none"'
    if not pen.colour:
        return inside
    dash = (
        f' stroke-dasharray="{" ".join(_n(d) for d in pen.dash)}"' if pen.dash else ""
    )
    outline = f' stroke="{escape(pen.colour)}" stroke-width="{_n(pen.width)}"'
    return inside + outline + dash


def _attrs(**values: float) -> str:
    return "".join(f' {name}="{_n(value)}"' for name, value in values.items())


def _n(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
