"""The sheets: what stands on each.

What lives here: one function a kind of sheet, each from a new page on. What must not: words (they come from ``shared/``);
files; how a PDF is made.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from assistant.core.club.rota import Roles
from assistant.core.club.rounds import followers_even_after, roles_even_after, rounds_of
from assistant.core.club.settings import Settings
from assistant.core.plans.model import Activity, Plan, Step
from assistant.core.plans.sheets import RoleCard, SheetTexts
from assistant.core.plans.small_parts import Caution, caution
from assistant.core.wording import Amount, Count
from assistant.outputs.paper.page import BODY_PT, LARGE_PT, LEADING, MARGIN_MM, POINT_MM, SMALLEST_PT, TITLE_PT, Page
from assistant.outputs.pictures.drawing import Drawing
from assistant.outputs.pictures.icons import icon
from assistant.outputs.pictures.shapes import moved
from assistant.terms import ROLES_BY_CHILDREN, Role, Seat

CARD_TITLE_PT, CARD_LINE_PT = 54.0, 32.0
GAP = 4.0
PIECE_ROWS, PIECE_WIDE = (21.0, 28.0), 42.0  # lowest and highest row
CUT = 2.0  # length of the dashes of a line to cut along
BLANK_ROUNDS = 3  # to write rounds down as they were


@dataclass(frozen=True)
class Order:
    """What the sheets are for.

    ``youngest_years`` is the age of the youngest person in the room, also of one who does not play; None says that nobody was
    asked, and prints no caution. ``passes`` holds who passed in which round, from 1. ``photos`` are JPEG bytes by step.
    """

    plan: Plan
    settings: Settings
    own_rules: tuple[str, ...] = ()
    younger: bool = False
    youngest_years: float | None = None
    rounds: int = 6
    passes: Mapping[int, Seat] = field(default_factory=dict)
    photos: Mapping[int, bytes] = field(default_factory=dict)


def role_cards(page: Page, order: Order, texts: SheetTexts) -> None:
    """A card a child, one a page: icon, name of the role, one sentence a line."""
    for card in texts.role_cards(order.settings.children):
        page.new()
        _role_card(page, card)


def _role_card(page: Page, card: RoleCard) -> None:
    left, wide = MARGIN_MM, page.inner
    page.box(left, MARGIN_MM, wide, page.height - 2 * MARGIN_MM, line=1.5)
    page.box(left, MARGIN_MM, wide, 92, fill=page.look.shade, line=1.5)
    page.draw(
        moved(icon(card.role.value, page.look, page.look.roles[card.role.value]), page.width / 2 - 32, MARGIN_MM + 3, 0.64)
    )
    page.text(card.title, left, MARGIN_MM + 66, CARD_TITLE_PT, bold=True, width=wide, align="C")
    room = page.height - 2 * MARGIN_MM - 92 - 2 * GAP
    for index, line in enumerate(card.lines):
        middle = MARGIN_MM + 92 + GAP + room * (index + 0.5) / len(card.lines)
        top = middle - page.tall(line, CARD_LINE_PT, wide - 8 * GAP) / 2
        page.text(line, left + 4 * GAP, top, CARD_LINE_PT, width=wide - 8 * GAP, align="C")


def rules_sheet(page: Page, order: Order, texts: SheetTexts) -> None:
    """The rules, as large as the page allows, and the ones that the family added."""
    page.new()
    rules = texts.younger if order.younger else texts.rules
    top = _title(page, texts.say("title", "rules"))
    size = _largest(page, (*rules, *order.own_rules), page.height - MARGIN_MM - top - 14)
    top = _numbered(page, rules, top, size, 1)
    if order.own_rules:
        top = page.text(texts.say("title", "own_rules"), MARGIN_MM, top + GAP, BODY_PT, bold=True) + GAP
        _numbered(page, order.own_rules, top, size, 1 + len(rules))


def _largest(page: Page, lines: Sequence[str], room: float) -> float:
    """The largest size in which numbered lines fit a page, never under the smallest."""
    for size in (40.0, 36.0, 32.0, 28.0, 24.0, 20.0):
        wide = page.inner - size * POINT_MM * 2
        if sum(page.tall(line, size, wide) + size * POINT_MM * 0.45 for line in lines) <= room:
            return size
    return BODY_PT


def _numbered(page: Page, lines: Sequence[str], top: float, size: float, first: int) -> float:
    indent = size * POINT_MM * 2
    for number, line in enumerate(lines, start=first):
        top = _room_for(page, page.tall(line, size, page.inner - indent), top)
        page.text(f"{number}.", MARGIN_MM, top, size, bold=True)
        top = page.text(line, MARGIN_MM + indent, top, size, width=page.inner - indent) + size * POINT_MM * 0.45
    return top


def tray_list(page: Page, order: Order, texts: SheetTexts, drawing: Drawing) -> None:
    """Every kind of piece: picture, count, name, size, and boxes to tick before and after."""
    page.new()
    top = _tray_head(page, order, texts)
    keys = list(order.plan.tray())
    row = max(PIECE_ROWS[0], min(PIECE_ROWS[1], (page.height - MARGIN_MM - top) / len(keys)))
    for key in keys:
        if top + row > page.height - MARGIN_MM + 0.01:
            page.new()
            top = _tray_head(page, order, texts)
        _tray_row(page, order.plan, key, top, row, texts, drawing)
        top += row


def _tray_head(page: Page, order: Order, texts: SheetTexts) -> float:
    count = sum(order.plan.tray().values())
    top = _title(page, texts.say("title", "tray"), f"{order.plan.title}: {texts.say('tray', 'total', count=count)}")
    top = _caution(page, order, texts, top)
    for column, key in enumerate(("there", "back")):
        page.text(texts.say("tray", key), _tick_column(page, column) - 5, top, SMALLEST_PT, width=17, align="C")
    return top + SMALLEST_PT * POINT_MM * LEADING + 1


def _tray_row(page: Page, plan: Plan, key: str, top: float, high: float, texts: SheetTexts, drawing: Drawing) -> None:
    piece = plan.pieces[key]
    left = MARGIN_MM + PIECE_WIDE + GAP
    page.rule((MARGIN_MM, top), (page.width - MARGIN_MM, top))
    page.picture(drawing.piece(key), MARGIN_MM, top + 1, PIECE_WIDE, high - 2)
    page.text(drawing.count(key), left, top + 2, BODY_PT, bold=True)
    name_left = left + 32
    below = page.text(piece.name, name_left, top + 2, BODY_PT, width=_tick_column(page, 0) - name_left - 6)
    if piece.mm:
        length, width, height = (f"{side:g}" for side in piece.mm)
        page.text(texts.say("tray", "size", length=length, width=width, height=height), name_left, below, SMALLEST_PT)
    for column in (0, 1):
        page.tick_box(_tick_column(page, column), top + high / 2 - 4)


def _tick_column(page: Page, column: int) -> float:
    return page.width - MARGIN_MM - 29 + column * 18


def step_cards(page: Page, order: Order, texts: SheetTexts, drawing: Drawing) -> None:
    """The cover with its window, then two steps a page, to be cut apart or left together under the cover."""
    _cover(page, order, texts)
    for step in order.plan.steps:
        if step.number % 2:
            page.new()
            page.rule((0, page.height / 2), (page.width, page.height / 2), dash=CUT)
        _step_card(page, order, step, 0 if step.number % 2 else page.height / 2, texts, drawing)


def _cover(page: Page, order: Order, texts: SheetTexts) -> None:
    page.new()
    half = page.height / 2
    page.box(MARGIN_MM / 2, MARGIN_MM / 2, page.width - MARGIN_MM, half - MARGIN_MM, dash=CUT, line=0.8)
    page.text(texts.say("step", "cover"), MARGIN_MM, half * 0.4, TITLE_PT, bold=True, width=page.inner, align="C")
    top = page.text(f"{order.plan.title}", MARGIN_MM, half + 2 * MARGIN_MM, TITLE_PT, bold=True, width=page.inner, align="C")
    page.text(texts.say("step", "cover_how"), MARGIN_MM, top + 2 * GAP, BODY_PT, width=page.inner, align="C")


def _step_card(page: Page, order: Order, step: Step, top: float, texts: SheetTexts, drawing: Drawing) -> None:
    half, wide = page.height / 2, page.inner
    head = texts.say("step", "number", number=step.number, steps=len(order.plan.steps))
    page.text(head, MARGIN_MM, top + 11, BODY_PT + 4, bold=True)
    words = _where_in_words(order, step)
    below = page.tall(words, SMALLEST_PT, wide) if words else 0
    room = half - 24 - 12 - below
    if photo := order.photos.get(step.number):
        page.photo(photo, MARGIN_MM, top + 24, wide, room)
    else:
        page.picture(drawing.step(step.number), MARGIN_MM, top + 24, wide, room)
    if words:
        page.text(words, MARGIN_MM, top + half - 10 - below, SMALLEST_PT, width=wide, align="C")


def _where_in_words(order: Order, step: Step) -> str:
    """Where it goes, where no picture can tell: for blocks, beads and photos the words are the engineer's to find."""
    plan = order.plan
    told = plan.grid_mm is not None or plan.activity == Activity.BEADS or step.number in order.photos
    return "" if told else step.where


def steps_in_words(page: Page, order: Order, texts: SheetTexts) -> None:
    """For the adult: every step with its pieces, its place and the words to offer when help is asked for."""
    page.new()
    top = _title(page, texts.say("title", "words"), order.plan.title)
    for step in order.plan.steps:
        lines = _said(step, texts)
        top = _room_for(page, sum(page.tall(line, SMALLEST_PT, page.inner - 14) for line in lines), top)
        page.text(f"{step.number}.", MARGIN_MM, top, SMALLEST_PT, bold=True)
        for index, line in enumerate(lines):
            top = page.text(line, MARGIN_MM + 14, top, SMALLEST_PT, bold=index == 0, width=page.inner - 14)
        top += 2


def _said(step: Step, texts: SheetTexts) -> list[str]:
    again = [texts.say("step", "again", piece=piece.name) for piece in step.use]
    warning = [texts.say("care", step.care)] if step.care else []
    hint = [texts.say("step", "hint", hint=step.hint)] if step.hint else []
    put = [", ".join(_counted(step))] if step.put else []
    return [*put, *again, *([step.where] if step.where else []), *warning, *hint]


def _counted(step: Step) -> list[str]:
    """What a step puts, pieces of a kind together: ``"2 × green leaf"``."""
    return [f"{count} × {name}" if count > 1 else name for name, count in Counter(step.measured).items()]


def checklists(page: Page, order: Order, texts: SheetTexts) -> None:
    """What the adult does before and after, to tick."""
    pieces = Count(sum(order.plan.tray().values()))
    for key, lines in (("set_up", texts.set_up), ("clear_away", texts.clear_away)):
        page.new()
        top = _caution(page, order, texts, _title(page, texts.say("title", key), order.plan.title))
        for line in lines:
            said = line.format(pieces=pieces)
            top = _room_for(page, page.tall(said, BODY_PT, page.inner - 14), top)
            page.tick_box(MARGIN_MM, top - 0.5)
            top = page.text(said, MARGIN_MM + 14, top, BODY_PT, width=page.inner - 14) + GAP


def timetable(page: Page, order: Order, texts: SheetTexts) -> None:
    """The parts of the session from top to bottom, each with its icon, its minutes and a box to tick."""
    page.new()
    settings = order.settings
    total = round(settings.length_s / 60)
    top = _title(page, texts.say("title", "timetable"), texts.say("timetable", "together", minutes=total))
    building = settings.length_s - settings.set_up_s - settings.clear_away_s
    minutes = {"set up": settings.set_up_s, "build": building, "clear away": settings.clear_away_s}
    parts = {
        "set up": "set up",
        "roles": "engineer",
        "build": "build",
        "look": "look",
        "clear away": "clear away",
        "over": "over",
    }
    high = (page.height - MARGIN_MM - top) / len(parts)
    for index, (part, picture) in enumerate(parts.items()):
        _part(page, texts, part, picture, minutes.get(part, 0), top + index * high, high)


def _part(page: Page, texts: SheetTexts, part: str, picture: str, length_s: float, top: float, high: float) -> None:
    scale = (high - 2 * GAP) / 100
    page.box(MARGIN_MM, top, page.inner, high - GAP / 2)
    page.draw(moved(icon(picture, page.look, page.look.pieces["light blue"]), MARGIN_MM + GAP, top + GAP, scale))
    left = MARGIN_MM + high + 2 * GAP
    middle = top + high / 2 - LARGE_PT * POINT_MM * LEADING / 2
    page.text(str(texts.words["timetable"]["part"][part]), left, middle - (4 if length_s else 0), LARGE_PT, bold=True)
    if length_s:
        page.text(texts.say("timetable", "minutes", minutes=Amount(length_s / 60)), left, middle + 8, BODY_PT)
    page.tick_box(page.width - MARGIN_MM - 16, top + high / 2 - 6, 10)


def rota_sheet(page: Page, order: Order, texts: SheetTexts) -> None:
    """Who has which role in each round, what is equal after how many, and what happens after a pass."""
    page.new()
    rounds = rounds_of(order.settings.seats, order.rounds, order.passes)
    roles = ROLES_BY_CHILDREN[order.settings.children]
    top = _title(page, texts.say("title", "rota"))
    widths = [24.0, *([(page.inner - 24) / len(roles)] * len(roles))]
    top = _rota_head(page, texts, roles, widths, top)
    row = min(16.0, (page.height - top - 74) / (len(rounds) + BLANK_ROUNDS))
    page.grid(MARGIN_MM, top, widths, [row] * (len(rounds) + BLANK_ROUNDS))
    for number, round_ in enumerate(rounds, start=1):
        _rota_row(page, order, number, round_, widths, top + (number - 1) * row, row)
    for blank in range(BLANK_ROUNDS):
        y = top + (len(rounds) + blank) * row + row / 2 - SMALLEST_PT * POINT_MM * LEADING / 2
        page.text(texts.say("rota", "empty"), MARGIN_MM + 2, y, SMALLEST_PT)
    top += row * (len(rounds) + BLANK_ROUNDS) + GAP
    passed = [f"* {texts.say('rota', 'passed', seat=order.settings.name(seat))}" for seat in order.passes.values()]
    for sentence in (*passed, *rota_sentences(order.settings, rounds, texts)):
        top = page.text(sentence, MARGIN_MM, top, SMALLEST_PT, width=page.inner) + 1


def _rota_head(page: Page, texts: SheetTexts, roles: Sequence[Role], widths: Sequence[float], top: float) -> float:
    for index, role in enumerate(roles):
        left = MARGIN_MM + widths[0] + index * widths[1]
        page.draw(moved(icon(role.value, page.look, page.look.roles[role.value]), left + widths[1] / 2 - 10, top, 0.2))
        page.text(texts.cards[role.value].title, left, top + 21, BODY_PT, bold=True, width=widths[1], align="C")
    page.text(texts.say("rota", "round"), MARGIN_MM + 2, top + 21, BODY_PT, bold=True)
    return top + 30


def _rota_row(page: Page, order: Order, number: int, round_: Roles, widths: Sequence[float], top: float, high: float) -> None:
    passed = order.passes.get(number)
    y = top + high / 2 - BODY_PT * POINT_MM * LEADING / 2
    page.text(f"{number}{'*' if passed else ''}", MARGIN_MM + 4, y, BODY_PT, bold=True)
    for index, (seat, _) in enumerate(round_):
        left = MARGIN_MM + widths[0] + index * widths[1]
        name = page.lines(order.settings.name(seat), BODY_PT, widths[1] - 2)[0]
        page.text(name, left, y, BODY_PT, width=widths[1], align="C")


def rota_sentences(settings: Settings, rounds: Sequence[Roles], texts: SheetTexts) -> list[str]:
    """What is true of these rounds: when the roles are equal, when the followers are, and what a pass does."""
    even = {"equal": roles_even_after(rounds), "balanced": followers_even_after(rounds)}
    sentences = [texts.say("rota", key, rounds=count) for key, count in even.items() if count]
    for seat in settings.seats:
        taker = settings.seats[(settings.seats.index(seat) + 1) % len(settings.seats)]
        sentences.append(texts.say("rota", "passes", seat=settings.name(seat), taker=settings.name(taker)))
    return [*sentences, texts.say("rota", "pass_how")]


def _title(page: Page, title: str, below: str = "") -> float:
    top = page.text(title, MARGIN_MM, MARGIN_MM - 4, TITLE_PT, bold=True, width=page.inner)
    if below:
        top = page.text(below, MARGIN_MM, top, BODY_PT, width=page.inner)
    return top + GAP


def _room_for(page: Page, high: float, top: float) -> float:
    """Where something this high begins: here, or on a new page when it does not fit any more."""
    if top + high <= page.height - MARGIN_MM:
        return top
    page.new()
    return MARGIN_MM


def _caution(page: Page, order: Order, texts: SheetTexts, top: float) -> float:
    """The choking caution, in a box of its own, where the youngest person in the room makes one necessary."""
    if order.youngest_years is None:
        return top
    kind, pieces = caution(order.plan, order.youngest_years)
    if kind is Caution.NONE:
        return top
    said = texts.say("choking", kind.value, pieces=", ".join(piece.name for piece in pieces))
    high = page.tall(said, SMALLEST_PT, page.inner - 2 * GAP, bold=True) + 2 * GAP
    page.box(MARGIN_MM, top, page.inner, high, line=1, fill=page.look.shade)
    page.text(said, MARGIN_MM + GAP, top + GAP, SMALLEST_PT, bold=True, width=page.inner - 2 * GAP)
    return top + high + GAP
