"""What only the whole plan shows: does it hang together?

What lives here: one small check for each way in which a plan that reads well can still not be built, strung or cooked. What
must not: reading; the reader in ``plan`` has already made sure of the types.

Every check yields pairs of place and sentence: ``("step 3", "the long red block at [0, 0, 1] floats: ...")``.
"""

from collections.abc import Collection, Iterator, Mapping
from itertools import pairwise

from assistant.core.plans.building import building_problems
from assistant.core.plans.model import Activity, Care, Fit, Piece, Plan, Step
from assistant.core.plans.small_parts import Small, small_part

Problems = Iterator[tuple[str, str]]

CARE_WORDS = {
    Care.HOT: ("hot", "oven", "hob", "stove", "kettle", "boil", "boiling", "fry", "frying", "toaster", "microwave", "bake"),
    Care.SHARP: ("sharp", "knife", "grater", "peeler", "scissors", "blade", "blender", "chop"),
}
"""English words that tell that a step is hot or sharp. Chosen by us, on the safe side."""


def plan_problems(plan: Plan, unread: Collection[str] = ()) -> Problems:
    """Everything that is wrong with a plan that could be read.

    Args:
        unread: keys of pieces of which something could not be read; what follows from that is not said again.
    """
    for place, what in _everything(plan):
        if place not in {f"piece {key!r}" for key in unread}:
            yield place, what


def _everything(plan: Plan) -> Problems:
    if not plan.steps:
        yield "step", "there is none. Write at least one [[step]]."
    yield from _pieces(plan)
    yield from _alike(plan)
    yield from _scattered(plan)
    yield from _used_before_put(plan)
    yield from _grid(plan)
    yield from _pattern(plan)
    yield from _amounts(plan)
    if plan.activity == Activity.COOKING:
        yield from _careful(plan)
    if plan.activity == Activity.CHUNKY:
        yield from _chunky(plan)


def _pieces(plan: Plan) -> Problems:
    used = plan.tray()
    for key, piece in plan.pieces.items():
        if not used[key]:
            yield f"piece {key!r}", "no step puts it. Only needed pieces lie on the tray: use it or take it out."
        for attribute in sorted(piece.attributes.keys() - set(plan.preference)):
            yield f"piece {key!r}", f"its attribute {attribute!r} is not in preference. Add it there."


def _alike(plan: Plan) -> Problems:
    seen: dict[frozenset[tuple[str, str]], str] = {}
    for key, piece in plan.pieces.items():
        twin = seen.setdefault(frozenset(piece.attributes.items()), key)
        if twin != key and piece.attributes:
            yield f"piece {key!r}", f"no word tells it from piece {twin!r}. Give one of them another attribute."


def _scattered(plan: Plan) -> Problems:
    begun: set[str] = set()
    for before, step in pairwise((None, *plan.steps)):
        assert step is not None
        if before is None or before.component != step.component:
            if step.component in begun:
                yield _at(step), f"component {step.component!r} was left before. Keep its steps together."
            begun.add(step.component)


def _used_before_put(plan: Plan) -> Problems:
    first = {piece.key: step.number for step in reversed(plan.steps) for piece in step.put}
    for step in plan.steps:
        for piece in step.use:
            if first.get(piece.key, step.number) > step.number:
                yield _at(step), f"it uses the {piece.name}, which comes only in step {first[piece.key]}. Put it first."


def _grid(plan: Plan) -> Problems:
    if plan.grid_mm is None:
        if plan.fit is Fit.PRESS:
            yield "fit", 'only pieces on a grid are pressed together. Write grid = 20 (millimetres), or take fit = "press" out.'
        return
    if plan.activity in (Activity.BEADS, Activity.COOKING):
        yield "grid", f"there is no grid in {plan.activity}. Take grid and every at out."
        return
    unfit = dict(_off_grid(plan.pieces, plan.grid_mm))
    yield from unfit.items()
    if not unfit and all(len(step.places) == len(step.put) for step in plan.steps):
        for step, sentence in building_problems(plan.laid(), pressed=plan.fit is Fit.PRESS):
            yield f"step {step}", sentence


def _off_grid(pieces: Mapping[str, Piece], grid_mm: float) -> Problems:
    for key, piece in pieces.items():
        if piece.mm is None:
            yield f"piece {key!r}", "it lies on a grid, so its size is needed. Write mm = [length, width, height]."
        elif any(abs(side / grid_mm - max(1, round(side / grid_mm))) > 0.01 for side in piece.mm):
            sides = " x ".join(f"{side:g}" for side in piece.mm)
            yield f"piece {key!r}", f"{sides} mm does not fill whole cells of {grid_mm:g} mm. Choose a finer grid."


def _pattern(plan: Plan) -> Problems:
    if not plan.pattern:
        return
    strung = [(step, piece) for step in plan.steps for piece in step.put]
    for index, (step, piece) in enumerate(strung):
        expected = plan.pattern[index % len(plan.pattern)]
        if piece.key != expected:
            yield _at(step), f"bead {index + 1} on the string is {piece.key!r}; the pattern says {expected!r} here."
    if len(strung) % len(plan.pattern):
        yield "pattern", f"the string ends inside it, with bead {len(strung)}. Finish the last round, or change the pattern."


def _amounts(plan: Plan) -> Problems:
    for step in plan.steps:
        for piece, amount in zip(step.put, step.amounts or (None,) * len(step.put), strict=True):
            if piece.unit is None and amount is not None:
                yield _at(step), f'piece {piece.key!r} has an amount and no unit. Write unit = "spoon" where the piece is.'
            elif piece.unit is not None and amount is None:
                yield _at(step), f"piece {piece.key!r} is measured in {piece.unit[1]}. Say how much: amount = 2."


def _careful(plan: Plan) -> Problems:
    for step in plan.steps:
        said = " ".join([step.where, step.hint, *(piece.name for piece in (*step.put, *step.use))]).lower()
        words = said.replace(",", " ").replace(".", " ").split()
        for care, warnings in CARE_WORDS.items():
            found = next((word for word in words if word in warnings), None)
            if found and step.care is None:
                yield _at(step), f'{found!r} sounds {care}, and no adult is named. Write adult = "{care}", or another word.'


def _chunky(plan: Plan) -> Problems:
    for key, piece in plan.pieces.items():
        if piece.mm is None and plan.grid_mm is None:
            yield f"piece {key!r}", "chunky blocks are for small hands: say the size. Write mm = [length, width, height]."
        elif small_part(piece) in (Small.YES, Small.MAYBE):
            yield f"piece {key!r}", "it is a small part, or nearly. Chunky blocks are larger: 45 mm or more in two directions."


def _at(step: Step) -> str:
    return f"step {step.number}"
