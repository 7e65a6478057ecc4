"""Icons of our own: roles, parts of a session, things in a kitchen.

What lives here: each icon as shapes in a box of 100 by 100, from plain lines and outlines, so that it works in grey. What must
not: letters; anything that looks like a known sign or brand.
"""

from collections.abc import Callable

from assistant.core.plans.look import Look
from assistant.core.plans.plane import Spot
from assistant.outputs.pictures.shapes import Ellipse, Polygon, Shape, arc, rectangle

LINE = 4.0
Icon = tuple[Shape, ...]
Maker = Callable[[Look, str], Icon]


def icon(name: str, look: Look, fill: str = "") -> Icon:
    """An icon by its name.

    Args:
        fill: the colour of its main part, paper when empty.

    Raises:
        KeyError: there is none of this name; :data:`ICONS` has them all.
    """
    return ICONS[name](look, fill or look.paper)


# --- roles --------------------------------------------------------------------------------------------------------------


def _engineer(look: Look, fill: str) -> Icon:
    """A card with a picture, and a bubble: looks, and says."""
    return (
        _box(look, 8, 30, 46, 62, fill, 5),
        _box(look, 18, 62, 26, 14, look.paper),
        _box(look, 24, 48, 14, 14, look.paper),
        _poly(look, ((14, 76), (48, 76)), closed=False),
        _poly(look, (*arc((72, 28), 22, 18, 130, 455), (56, 56)), look.paper),
        _dot(look, 63, 28),
        _dot(look, 72, 28),
        _dot(look, 81, 28),
    )


def _supplier(look: Look, fill: str) -> Icon:
    """A tray with pieces, one of them on its way up."""
    return (
        _box(look, 14, 58, 18, 18, look.paper),
        _poly(look, ((40, 76), (60, 76), (50, 58)), look.paper),
        _circle(look, 77, 67, 9, look.paper),
        _poly(look, ((4, 68), (12, 90), (88, 90), (96, 68), (88, 76), (12, 76)), fill),
        _box(look, 40, 8, 20, 20, fill),
        _arrow(look, (50, 54), (50, 34)),
    )


def _builder(look: Look, fill: str) -> Icon:
    """A piece that comes down on others."""
    return (
        _box(look, 12, 66, 38, 24, look.paper),
        _box(look, 50, 66, 38, 24, look.paper),
        _box(look, 31, 8, 38, 24, fill),
        _arrow(look, (50, 36), (50, 60)),
    )


# --- parts of a session -------------------------------------------------------------------------------------------------


def _set_up(look: Look, fill: str) -> Icon:
    """Pieces laid on a tray."""
    return (
        _poly(look, ((4, 62), (14, 88), (86, 88), (96, 62), (88, 72), (12, 72)), fill),
        _box(look, 22, 54, 18, 18, look.paper),
        _box(look, 58, 54, 18, 18, look.paper),
        _arrow(look, (31, 18), (31, 46)),
        _arrow(look, (67, 18), (67, 46)),
    )


def _build(look: Look, fill: str) -> Icon:
    """A small build."""
    return (
        _box(look, 14, 64, 36, 22, fill),
        _box(look, 50, 64, 36, 22, look.paper),
        _box(look, 32, 42, 36, 22, look.paper),
        _poly(look, ((32, 42), (68, 42), (50, 14)), fill),
    )


def _swap(look: Look, fill: str) -> Icon:
    """Two places that change."""
    return (
        _circle(look, 20, 50, 14, fill),
        _circle(look, 80, 50, 14, look.paper),
        _poly(look, arc((50, 44), 30, 32, 195, 320), closed=False),
        _poly(look, ((80, 32), (63, 28), (77, 15)), look.dark),
        _poly(look, arc((50, 56), 30, 32, 15, 140), closed=False),
        _poly(look, ((20, 68), (37, 72), (23, 85)), look.dark),
    )


def _look_at_it(look: Look, fill: str) -> Icon:
    """An eye."""
    lid = (*arc((50, 72), 48, 48, 210, 330), *arc((50, 24), 48, 48, 30, 150))
    return _poly(look, lid, look.paper), _circle(look, 50, 48, 15, fill), _dot(look, 50, 48, 6)


def _clear_away(look: Look, fill: str) -> Icon:
    """Pieces that go into a box."""
    return (
        _box(look, 40, 12, 20, 20, look.paper),
        _arrow(look, (50, 36), (50, 58)),
        _poly(look, ((14, 52), (14, 90), (86, 90), (86, 52), (74, 52), (74, 68), (26, 68), (26, 52)), fill),
    )


def _over(look: Look, fill: str) -> Icon:
    """A door that stands open."""
    return (
        _box(look, 26, 10, 48, 80, look.paper),
        _poly(look, ((26, 10), (58, 20), (58, 98), (26, 90)), fill),
        _dot(look, 51, 58),
    )


def _break(look: Look, fill: str) -> Icon:
    """A beaker."""
    return (
        _poly(look, arc((72, 50), 16, 16, -90, 90), closed=False),
        _poly(look, ((22, 26), (72, 26), (66, 84), (28, 84)), fill),
        _poly(look, ((24, 42), (70, 42)), closed=False),
    )


# --- kitchen ------------------------------------------------------------------------------------------------------------


def _spoon(look: Look, fill: str) -> Icon:
    return (
        _poly(look, rectangle(46, 42, 8, 52, 4), fill),
        Ellipse((50, 26), 15, 20, fill, look.dark, LINE),
    )


def _cup(look: Look, fill: str) -> Icon:
    return (
        _poly(look, ((24, 22), (76, 22), (68, 88), (32, 88)), fill),
        _poly(look, ((34, 44), (54, 44)), closed=False),
        _poly(look, ((36, 62), (52, 62)), closed=False),
    )


def _bowl(look: Look, fill: str) -> Icon:
    return (
        _poly(look, (*arc((50, 40), 42, 44, 0, 180), (8, 40)), fill),
        _poly(look, rectangle(36, 82, 28, 8), fill),
    )


def _plate(look: Look, fill: str) -> Icon:
    return Ellipse((50, 56), 46, 24, fill, look.dark, LINE), Ellipse((50, 56), 28, 13, look.paper, look.dark, LINE / 2)


def _board(look: Look, fill: str) -> Icon:
    return _poly(look, rectangle(10, 34, 62, 40, 8), fill), _poly(look, rectangle(72, 48, 20, 12, 5), fill)


def _jug(look: Look, fill: str) -> Icon:
    return (
        _poly(look, arc((72, 52), 18, 18, -80, 80), closed=False),
        _poly(look, ((16, 20), (26, 16), (72, 16), (72, 88), (28, 88), (28, 34)), fill),
    )


def _jar(look: Look, fill: str) -> Icon:
    return (
        _poly(look, rectangle(22, 30, 56, 60, 10), fill),
        _poly(look, rectangle(28, 14, 44, 16, 3), look.paper),
    )


def _pan(look: Look, fill: str) -> Icon:
    return _poly(look, ((8, 44), (64, 44), (60, 74), (12, 74)), fill), _poly(look, rectangle(63, 44, 34, 9, 4), look.paper)


def _blade(look: Look, fill: str) -> Icon:
    return (
        _poly(look, ((42, 8), (58, 20), (58, 58), (42, 58)), look.paper),
        _poly(look, rectangle(42, 58, 16, 36, 5), fill),
    )


def _slice(look: Look, fill: str) -> Icon:
    crust = (*arc((28, 32), 16, 16, 120, 270), *arc((72, 32), 16, 16, -90, 60), (80, 88), (20, 88))
    return (_poly(look, crust, fill),)


def _thing(look: Look, fill: str) -> Icon:
    """Food that is taken whole."""
    return _circle(look, 50, 54, 34, fill), _poly(look, arc((50, 54), 20, 20, 200, 260), closed=False)


def _adult(look: Look, fill: str) -> Icon:
    """A large figure beside a small one."""
    return (
        _circle(look, 34, 22, 13, fill),
        _poly(look, (*arc((34, 66), 24, 28, 180, 360), (58, 92), (10, 92)), fill),
        _circle(look, 76, 52, 9, look.paper),
        _poly(look, (*arc((76, 82), 14, 18, 180, 360), (90, 92), (62, 92)), look.paper),
    )


def _hot(look: Look, fill: str) -> Icon:
    """Warm air over a pan."""
    waves = (
        _poly(look, (*arc((x, 18), 5, 8, 90, 270, 8)[::-1], *arc((x, 34), 5, 8, -90, 90, 8)), closed=False)
        for x in (26, 46, 66)
    )
    return *waves, _poly(look, ((10, 54), (82, 54), (76, 86), (16, 86)), fill), _poly(look, ((82, 60), (98, 60)), closed=False)


def _arrow_right(look: Look, fill: str) -> Icon:
    return (_poly(look, ((10, 42), (56, 42), (56, 24), (92, 50), (56, 76), (56, 58), (10, 58)), fill),)


ICONS: dict[str, Maker] = {
    "engineer": _engineer,
    "supplier": _supplier,
    "builder": _builder,
    "set up": _set_up,
    "build": _build,
    "swap": _swap,
    "look": _look_at_it,
    "clear away": _clear_away,
    "over": _over,
    "break": _break,
    "spoon": _spoon,
    "cup": _cup,
    "bowl": _bowl,
    "plate": _plate,
    "board": _board,
    "jug": _jug,
    "jar": _jar,
    "pan": _pan,
    "knife": _blade,
    "slice": _slice,
    "thing": _thing,
    "adult": _adult,
    "hot": _hot,
    "sharp": _blade,
    "arrow": _arrow_right,
}


# --- strokes ------------------------------------------------------------------------------------------------------------


def _poly(look: Look, points: tuple[Spot, ...], fill: str = "", *, closed: bool = True) -> Polygon:
    return Polygon(points, fill if closed else "", look.dark, LINE, closed=closed)


def _box(look: Look, left: float, top: float, width: float, height: float, fill: str, radius: float = 0) -> Polygon:
    return _poly(look, rectangle(left, top, width, height, radius), fill)


def _circle(look: Look, x: float, y: float, radius: float, fill: str) -> Ellipse:
    return Ellipse((x, y), radius, radius, fill, look.dark, LINE)


def _dot(look: Look, x: float, y: float, radius: float = 3.5) -> Ellipse:
    return Ellipse((x, y), radius, radius, look.dark)


def _arrow(look: Look, start: Spot, end: Spot) -> Polygon:
    """A straight up or down arrow."""
    (x, y1), (_, y2) = start, end
    back = 10 if y1 > y2 else -10
    head = ((x, y2), (x - 9, y2 + back), (x - 3, y2 + back), (x - 3, y1), (x + 3, y1), (x + 3, y2 + back), (x + 9, y2 + back))
    return Polygon(head, look.dark, look.dark, 1)
