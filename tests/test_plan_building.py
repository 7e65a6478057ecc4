"""Building on the grid, seen from the front: x goes right, rows go up, each letter is one piece and one step.

"bbb"     step b lays a beam
"a.c"     on a and on c
"""

import pytest

from assistant.core.plans.building import Form, Laid, Lies, Place, building_problems, lay

A_WORD_FOR = {
    "float": "floats",
    "tip": "tip over",
    "order": "comes only in step",
    "reach": "cannot be reached",
    "same": "the same place",
    "slope": "no flat top",
}


def seen_from_the_front(*rows: str, order: str = "", triangles: str = "", depth: int = 1) -> list[Laid]:
    """The pieces of a picture, put in the order of the alphabet, or in that of ``order``."""
    cells: dict[str, list[tuple[int, int]]] = {}
    for z, row in enumerate(reversed(rows)):
        for x, letter in enumerate(row):
            if letter != ".":
                cells.setdefault(letter, []).append((x, z))
    return [
        block(number, letter, cells[letter], letter in triangles, depth)
        for number, letter in enumerate(order or sorted(cells), 1)
    ]


def block(step: int, letter: str, cells: list[tuple[int, int]], triangle: bool, depth: int) -> Laid:
    xs, zs = [x for x, _ in cells], [z for _, z in cells]
    size = (max(xs) - min(xs) + 1, depth, max(zs) - min(zs) + 1)
    if triangle:
        return lay(step, letter, Form.TRIANGLE, (size[0], size[2], depth), Place((min(xs), 0, min(zs)), Lies.EDGE))
    return lay(step, letter, Form.BOX, size, Place((min(xs), 0, min(zs))))


def problems(pieces: list[Laid], pressed: bool = False) -> list[str]:
    """Each problem as step letter and kind: ``"b float"``."""
    found = []
    for step, sentence in building_problems(pieces, pressed=pressed):
        kind = next(kind for kind, words in A_WORD_FOR.items() if words in sentence)
        found.append(f"{next(piece.name for piece in pieces if piece.step == step)} {kind}")
    return found


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (["c", "b", "a"], []),
        (["ccc", "a.b"], []),
        (["bbb", ".a."], []),
        (["bbb", "a.."], ["b tip"]),
        (["bbbb", "aa.."], []),  # its middle is over the very edge
        (["b", ".", "a"], ["b float"]),
        (["c.", ".b", "a."], ["b float", "c float"]),
        (["bbb", "a.c"], ["b tip"]),  # it should have waited for c
        (["b.", "aa"], []),
    ],
)
def test_blocks_hold_by_their_weight(rows: list[str], expected: list[str]) -> None:
    assert problems(seen_from_the_front(*rows)) == expected


def test_a_step_that_comes_too_early_names_the_one_that_belongs_before() -> None:
    pieces = seen_from_the_front("c", "b", "a", order="acb")

    assert problems(pieces) == ["c order"]
    [(step, sentence)] = building_problems(pieces, pressed=False)
    assert step == 2 and "the b at [0, 0, 1]" in sentence and "step 3" in sentence


def test_pieces_of_one_step_may_go_on_in_any_order() -> None:
    on_top, below = (lay(1, name, Form.BOX, (1, 1, 1), Place((0, 0, z))) for name, z in (("b", 1), ("a", 0)))

    assert problems([on_top, below]) == []


def test_pressed_blocks_neither_tip_nor_need_something_below() -> None:
    assert problems(seen_from_the_front("bbb", "a.c"), pressed=True) == []
    assert problems(seen_from_the_front("bbb", "..c", "a..", order="abc"), pressed=True) == ["b order"]
    assert problems(seen_from_the_front("bbb", "a.c", "a..", order="abc"), pressed=True) == []  # c hangs under b


def test_a_block_slides_in_from_the_side_while_a_side_is_open() -> None:
    assert problems(seen_from_the_front("ccc", "adb", order="abcd")) == []  # from the front


def test_a_block_between_walls_and_under_a_roof_cannot_be_reached() -> None:
    walls = [
        lay(1, "wall", Form.BOX, size, Place(at))
        for at, size in [((0, 0, 0), (3, 1, 1)), ((0, 2, 0), (3, 1, 1)), ((0, 1, 0), (1, 1, 1)), ((2, 1, 0), (1, 1, 1))]
    ]
    roof = lay(2, "roof", Form.BOX, (3, 3, 1), Place((0, 0, 1)))
    inside = lay(3, "inside", Form.BOX, (1, 1, 1), Place((1, 1, 0)))

    assert problems([*walls, roof, inside]) == ["inside reach"]
    assert problems([*walls, lay(2, "inside", Form.BOX, (1, 1, 1), Place((1, 1, 0)))]) == []  # from above, before the roof


def test_a_pressed_block_cannot_slide_between_two_others() -> None:
    table = seen_from_the_front("ccc", "adb", "eee", order="eabcd", depth=1)

    assert problems(table, pressed=True) == ["d reach"]
    assert problems(table) == []


def test_nothing_stands_on_a_roof() -> None:
    assert problems(seen_from_the_front(".c.", "aaa", triangles="a")) == ["c slope"]
    assert problems(seen_from_the_front("aaa", "b.c", triangles="a", order="bca")) == []


def test_an_arch_stands_on_its_legs() -> None:
    under_the_opening = [
        lay(1, "post", Form.BOX, (1, 1, 1), Place((2, 0, 0))),
        lay(2, "arch", Form.ARCH, (4, 1, 2), Place((0, 0, 1))),
    ]
    under_the_legs = [
        lay(1, "post", Form.BOX, (1, 1, 1), Place((0, 0, 0))),
        lay(1, "post", Form.BOX, (1, 1, 1), Place((3, 0, 0))),
        lay(2, "arch", Form.ARCH, (4, 1, 2), Place((0, 0, 1))),
    ]

    assert problems(under_the_opening) == ["arch float"]
    assert problems(under_the_legs) == []


def test_a_lying_triangle_balances_a_third_up_from_its_base() -> None:
    """The centroid of a triangle (Euclid's medians): base 6, height 6, so its middle is 2 from the base and not 3."""
    post = lay(1, "post", Form.BOX, (2, 6, 1), Place((0, 0, 0)))
    pointing_right = lay(2, "sail", Form.TRIANGLE, (6, 6, 1), Place((0, 0, 1), turn=90))
    pointing_left = lay(2, "sail", Form.TRIANGLE, (6, 6, 1), Place((0, 0, 1), turn=270))

    assert problems([post, pointing_right]) == []
    assert problems([post, pointing_left]) == ["sail tip"]


@pytest.mark.parametrize(
    ("lies", "turn", "size"),
    [
        (Lies.FLAT, 0, (4, 2, 1)),
        (Lies.FLAT, 90, (2, 4, 1)),
        (Lies.EDGE, 0, (4, 1, 2)),
        (Lies.END, 0, (1, 2, 4)),
        (Lies.END, 270, (2, 1, 4)),
    ],
)
def test_a_piece_lies_flat_on_edge_or_on_end(lies: Lies, turn: int, size: tuple[int, int, int]) -> None:
    assert lay(1, "plank", Form.BOX, (4, 2, 1), Place((0, 0, 0), lies, turn)).box.high == size
