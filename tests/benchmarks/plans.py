"""How long drawing and printing take: ``python -m tests.benchmarks.plans``.

A stair of sixty steps is drawn (target: under 2 s), and all sheets are printed for it and for each plan of the library (target:
under 5 s a plan). The seconds are processor time, so that a busy machine does not lengthen them.
"""

import tomllib
from pathlib import Path
from time import process_time

from assistant.core.club.settings import Settings
from assistant.core.plans.look import read_look
from assistant.core.plans.model import Plan
from assistant.core.plans.plan import read_plan
from assistant.core.plans.sheets import read_sheets
from assistant.outputs.paper.page import Format
from assistant.outputs.paper.printing import Sheet, printed
from assistant.outputs.paper.sheets import Order
from assistant.outputs.pictures.drawing import Drawing
from assistant.outputs.pictures.shapes import to_svg

ROOT = Path(__file__).parents[2]
STEPS = 60


def shared(name: str) -> str:
    return (ROOT / "shared" / name).read_text(encoding="utf-8")


LOOK = read_look(shared("look.toml"))
TEXTS = read_sheets(*(shared(f"{name}/en.toml") for name in ("sheets", "roles", "rules", "checklists")))
CARE = tomllib.loads(shared("sheets/en.toml"))["care"]


def long_stair() -> Plan:
    """Sixty steps, all of which lie in sight of one another."""
    head = (
        'version = 1\ntitle = "Stair"\nactivity = "blocks"\nchildren = [3]\nabout = "x"\npreference = ["colour"]\ngrid = 20\n'
    )
    piece = '[piece.red]\nattributes = { colour = "red" }\nmm = [40, 40, 20]\n'
    steps = "".join(
        f'[[step]]\ncomponent = "flight {n // 6}"\nput = [{{ piece = "red", at = [{n % 6 * 2}, {n // 6 % 2}, {n // 6}] }}]\n'
        for n in range(STEPS)
    )
    return read_plan(head + piece + steps, "stair")


def drawing_s(plan: Plan) -> float:
    started = process_time()
    drawing = Drawing(plan, LOOK, CARE)
    for picture in (drawing.model(), drawing.tray(), *(drawing.step(step.number) for step in plan.steps)):
        to_svg(picture)
    return process_time() - started


def printing_s(plan: Plan) -> float:
    started = process_time()
    printed(tuple(Sheet), Order(plan, Settings(children=plan.children[-1]), youngest_years=2), TEXTS, LOOK, Format.A4)
    return process_time() - started


def main() -> None:
    plans = {
        path.stem: read_plan(path.read_text(encoding="utf-8"), path.stem) for path in (ROOT / "shared" / "plans").glob("*.toml")
    }
    plans["stair of sixty"] = long_stair()
    print(f"{'plan':20} {'steps':>5} {'draw s':>7} {'print s':>8}")
    for name, plan in sorted(plans.items(), key=lambda item: len(item[1].steps)):
        print(f"{name:20} {len(plan.steps):5} {drawing_s(plan):7.2f} {printing_s(plan):8.2f}")


if __name__ == "__main__":
    main()
