"""What an utterance does: it asks for a piece, begins a repair, says that a step is done, praises, prompts, or is other talk.

What lives here: the reading of one utterance in the role of its speaker. What must not: words of any language (they are in the
lexicon), the tray, and what was said before beyond whether a piece has been asked for.

A recogniser gives no question mark and no tone of voice, and it mishears. So the words and the role decide, and anything that
does not read as one of the forms below is other talk: a request missed can be said again, a request that was none confuses.

    child         points to a rule, open request, step done, pass, help, restricted request, restricted offer, request, other
    facilitator   points to a rule, open request, praise, prompt, other

The three forms of repair follow Dingemanse et al. 2015 (PLoS ONE 10:e0136100): an *open request* says that something was not
caught and not what ("huh?"); a *restricted request* asks for one part of it ("which one?"); a *restricted offer* puts forward
what it may have been, to be confirmed or not ("the long one?").
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from assistant.core.words.lexicon import Label, Lexicon, Pair, Phrase, Token
from assistant.core.words.tray import merge
from assistant.terms import Act, Praise, Prompt, Repair, Role


@dataclass(frozen=True, slots=True)
class Meaning:
    """What an utterance does, as far as its words tell.

    ``attributes`` are in the order said; two values of one kind mean either ("the red or the blue one"). ``quantity`` is 1
    where no number was said. ``where`` holds the words that say where the piece goes. A step that is done may carry the next
    request in the same breath ("done, now the red one"): its act is STEP_DONE and its ``attributes`` are not empty. Praise
    may carry a prompt as well ("well done, what comes next?").
    """

    act: Act
    attributes: tuple[Pair, ...] = ()
    quantity: int = 1
    where: Phrase = ()
    repair: Repair | None = None
    prompt: Prompt | None = None
    praise: Praise | None = None


OTHER = Meaning(Act.OTHER)


def understand(
    words: Sequence[str],
    *,
    role: Role | None,
    is_facilitator: bool,
    may_ask: bool,
    request_is_open: bool,
    lexicon: Lexicon,
    describes: bool = False,
) -> Meaning:
    """What an utterance does.

    Args:
        words: as they were heard.
        role: the speaker's role, None for the facilitator and where it is not sure who spoke.
        is_facilitator: the adult speaks.
        may_ask: the speaker is the describer, or the builder.
        request_is_open: a piece was asked for and is not on yet, so that "the long one" or "it's red" belongs to it.
        lexicon: with the plan's own words.
        describes: the speaker is the describer. Pointing ("that one") then answers and asks nothing back.
    """
    heard = lexicon.normalise(words)
    if not heard:
        return OTHER
    if lexicon.find(heard, Label.RULE):
        return Meaning(Act.RULE)
    if _after(heard, Label.REPAIR_OPEN, lexicon, frozenset({Label.CORRECTION})) == ():
        return Meaning(Act.REPAIR, repair=Repair.OPEN_REQUEST)
    if is_facilitator:
        return _adult(heard, lexicon)
    return _Child(heard, role, may_ask, request_is_open, lexicon, describes).meaning()


# --- a whole utterance of one kind -----------------------------------------------------------------------------------------


def _after(words: Phrase, label: Label, lexicon: Lexicon, beside: frozenset[Label] = frozenset()) -> Phrase | None:
    """What follows once phrases with this label, and fillers, are taken from the start; None where there was no such phrase."""
    wanted = frozenset({label, Label.FILLER}) | beside
    at, found = 0, False
    while at < len(words) and (token := lexicon.token_at(words, at, wanted)).labels:
        found = found or label in token.labels
        at += len(token.words)
    return words[at:] if found else None


def _is_only(words: Phrase, label: Label, lexicon: Lexicon) -> bool:
    return _after(words, label, lexicon) == ()


# --- what is said about a piece --------------------------------------------------------------------------------------------

_NAMING = frozenset({Label.ATTRIBUTE, Label.PIECE, Label.POINTING})
_ABOUT_PIECE = _NAMING | {Label.NUMBER, Label.BEFORE_PIECE, Label.STRESS}
_PLACED = _NAMING | {Label.NUMBER, Label.SPOT}
_FORMS = frozenset({Label.ASKING, Label.TELLING, Label.PLACING})
_SCANNED = (
    _ABOUT_PIECE
    | _FORMS
    | {
        Label.JOINING, Label.FILLER, Label.CORRECTION, Label.EXCLUDING, Label.ASKING_POLITELY, Label.PLACE, Label.PLACE_OF_TWO,
        Label.PLACE_ANYWHERE, Label.SPOT, Label.ORIENTATION, Label.SMALL, Label.SOMEBODYS,
    }
)  # fmt: skip


@dataclass(slots=True)
class _Said:
    """What a stretch of speech says about a piece, filled in while its tokens are read from left to right."""

    pairs: tuple[Pair, ...] = ()
    quantity: int = 1
    where: Phrase = ()
    labels: set[Label] = field(default_factory=set)
    """The forms that were used, and POINTING and PIECE where a piece was named so."""
    named: bool = False
    """A piece was named, by an attribute or by a general word."""
    headless: bool = False
    """A word that leans on a noun stands before an unknown one: "a red apple"."""
    elsewhere: bool = False
    """The place is an unknown one that need not be on the model: "in the bin"."""
    exclaimed: bool = False
    """Nothing but stress or a number, and an attribute: "so big", "two long" for "too long"."""
    strange: list[Token] = field(default_factory=list)
    """What belongs to no form."""

    @property
    def unknown(self) -> int:
        """How many strange words there are that carry weight."""
        return sum(Label.SMALL not in token.labels for token in self.strange)


def _say(words: Phrase, lexicon: Lexicon) -> _Said:
    """Reads what is said about a piece. What follows a correction replaces what was said before it, kind by kind."""
    said = _Said()
    part: list[Token] = []
    for token in (*lexicon.scan(words, _SCANNED), Token((), frozenset({Label.CORRECTION}))):
        if Label.CORRECTION in token.labels:
            _read(tuple(part), said, lexicon)
            part = []
        else:
            part.append(token)
    return said


def _read(tokens: tuple[Token, ...], said: _Said, lexicon: Lexicon) -> None:
    """Reads one stretch without a correction into what was said so far."""
    pairs: list[Pair] = []
    at = 0
    while at < len(tokens):
        labels = tokens[at].labels
        end = at + 1
        if Label.EXCLUDING in labels:
            end = _excluded_end(tokens, at + 1)
        elif Label.PLACE in labels:
            end = _where_end(tokens, at)
            said.where += tuple(word for token in tokens[at:end] for word in token.words)
            unknown = [token for token in tokens[at:end] if not token.labels]
            said.strange += unknown
            said.elsewhere = said.elsewhere or bool(unknown) and Label.PLACE_ANYWHERE in labels
        elif Label.ORIENTATION in labels and (Label.ATTRIBUTE not in labels or said.named or Label.PLACING in said.labels):
            said.where += tokens[at].words
        elif labels & (_ABOUT_PIECE | {Label.SPOT}) and (run_end := _piece_end(tokens, at)) > at:
            end = run_end
            _name(tokens[at:end], tokens[end:], said, pairs, lexicon)
        elif labels & _FORMS:
            said.labels |= labels & _FORMS
        elif not _is_light(tokens, at, said):
            said.strange.append(tokens[at])
        at = end
    said.pairs = merge(said.pairs, tuple(dict.fromkeys(pairs)))


def _excluded_end(tokens: tuple[Token, ...], at: int) -> int:
    """Where the words about the piece, or the place, end that is not the one."""
    is_place = at < len(tokens) and Label.PLACE in tokens[at].labels
    return _where_end(tokens, at) if is_place else _piece_end(tokens, at)


def _is_light(tokens: tuple[Token, ...], at: int, said: _Said) -> bool:
    """Whether a token may stand among the forms without making the whole strange."""
    labels = tokens[at].labels
    if Label.ASKING_POLITELY in labels:
        return at + 1 < len(tokens) and Label.ASKING in tokens[at + 1].labels
    if Label.JOINING in labels and said.named:
        return True
    return bool(labels & {Label.FILLER, Label.BEFORE_PIECE, Label.STRESS}) and Label.SOMEBODYS not in labels


def _piece_end(tokens: tuple[Token, ...], at: int) -> int:
    """Where the words about one piece end that begin here; the same place where they name none."""
    end, named, noun = at, 0, False
    while end < len(tokens):
        labels = tokens[end].labels
        rest = tokens[end + 1 : end + 3]
        if labels & _NAMING:
            if noun and Label.ORIENTATION in labels:
                break
            noun = noun or bool(labels & {Label.PIECE, Label.POINTING})
            named = end + 1
        elif Label.BEFORE_PIECE in labels and noun:
            break
        elif Label.JOINING in labels:
            counted = end > at and Label.NUMBER in tokens[end - 1].labels
            if not (named or counted) or not _names_next(rest):
                break
            noun = False
        elif Label.SPOT in labels:
            if named and named == end:
                return end + 1  # "the white sail": a word of the plan as the noun
        elif not labels & _ABOUT_PIECE:
            break
        end += 1
    return named or at


def _names_next(rest: tuple[Token, ...]) -> bool:
    """Whether a piece is named by the next token, or by the one after an article."""
    passing = {Label.BEFORE_PIECE, Label.STRESS, Label.NUMBER}
    return bool(rest) and bool(rest[0].labels & _NAMING or rest[0].labels & passing and rest[1:] and rest[1].labels & _NAMING)


def _name(run: tuple[Token, ...], after: tuple[Token, ...], said: _Said, pairs: list[Pair], lexicon: Lexicon) -> None:
    """Takes up the words about one piece."""
    said.named = True
    last = max(place for place, token in enumerate(run) if token.labels & _NAMING)
    for place, token in enumerate(run):
        if token.pair:
            pairs.append(token.pair)
        elif token.number is not None and _counts(run, place, last):
            said.quantity = token.number
        said.labels |= token.labels & {Label.PIECE, Label.POINTING}
    nouns = _NAMING | {Label.SPOT}
    leaning = [bool(token.pair and token.pair[0] in lexicon.lean_kinds) for token in run if token.labels & nouns]
    said.headless = said.headless or leaning[-1] and bool(after) and not after[0].labels
    said.exclaimed = all(leaning) and bool(run[0].labels & {Label.STRESS, Label.NUMBER})


def _counts(run: tuple[Token, ...], place: int, last: int) -> bool:
    """Whether a number in the words about a piece says how many: the first "one" in "one red one", but not the last."""
    if Label.PIECE in run[place].labels:
        return place < last and bool(run[place + 1].labels & _NAMING)
    return place < last


def _where_end(tokens: tuple[Token, ...], at: int) -> int:
    """Where the words end that say where a piece goes and begin here."""
    two = Label.PLACE_OF_TWO in tokens[at].labels
    end, full = at + 1, False
    while end < len(tokens):
        labels = tokens[end].labels
        if Label.PLACE in labels:
            full = False
        elif labels & _PLACED:
            full = True
        elif Label.JOINING in labels and (two or tokens[end].words == ("of",)) and _names_next(tokens[end + 1 : end + 3]):
            full = False
        elif Label.BEFORE_PIECE in labels:
            if full:
                break
        elif labels & {Label.ASKING, Label.PLACING, Label.FILLER, Label.TELLING}:
            break
        elif labels & {Label.SMALL, Label.STRESS, Label.ORIENTATION}:
            full = full or Label.SMALL in labels
        elif not labels and not full:
            full = True
        else:
            break
        end += 1
    return end


# --- what a child says -----------------------------------------------------------------------------------------------------

WORDS_TO_A_STRANGE_ONE = 6
"""A request may hold one word that belongs to no form, and one for each so many words. Chosen on the ``tuning`` half of
``tests/samples/utterances.toml``."""


@dataclass(frozen=True, slots=True)
class _Child:
    """An utterance of a child, or of somebody who is not known."""

    words: Phrase
    role: Role | None
    may_ask: bool
    request_is_open: bool
    lexicon: Lexicon
    describes: bool

    def meaning(self) -> Meaning:
        """The first form that the utterance has."""
        forms = (self._done, self._pass, self._help, self._which, self._offer, self._request, self._bare_offer)
        return next((meaning for form in forms if (meaning := form())), OTHER)

    def _done(self) -> Meaning | None:
        if self.role is Role.BUILDER and _is_only(self.words, Label.STEP_NEXT, self.lexicon):
            return Meaning(Act.STEP_DONE)
        rest = _after(self.words, Label.STEP_DONE, self.lexicon)
        if rest is None:
            return None
        last = self.words[: len(self.words) - len(rest)][-1:]
        if rest and Label.PLACE in self.lexicon.labels_of(last):
            return self._done_there(last + rest)
        request = replace(self, words=rest)._request()
        if request:
            return replace(request, act=Act.STEP_DONE)
        return None if _say(rest, self.lexicon).unknown else Meaning(Act.STEP_DONE)

    def _done_there(self, where: Phrase) -> Meaning | None:
        """ "It's on top of the red one" is done when the builder says it; from the engineer it tells where to put it."""
        said = _say(where, self.lexicon)
        return Meaning(Act.STEP_DONE) if self.role is Role.BUILDER and not said.strange and not said.labels & _FORMS else None

    def _pass(self) -> Meaning | None:
        return Meaning(Act.PASS) if _is_only(self.words, Label.PASS, self.lexicon) else None

    def _help(self) -> Meaning | None:
        return Meaning(Act.HELP) if _is_only(self.words, Label.HELP, self.lexicon) else None

    def _which(self) -> Meaning | None:
        """A restricted request: "which red one", "what colour is it", "the red what"."""
        start = self._start()
        asked = self.lexicon.token_at(start, 0, frozenset({Label.REPAIR_WHICH})) if start else Token(())
        asks_for_piece = start and self.lexicon.token_at(start, 0, frozenset({Label.ASKING}))
        if asked.labels and not (asks_for_piece and len(asks_for_piece.words) > len(asked.words)):
            said = _say(start[len(asked.words) :], self.lexicon)
            return None if said.unknown else self._repair(Repair.RESTRICTED_REQUEST, said)
        for length in range(1, min(self.lexicon.longest, len(start))):
            if Label.REPAIR_WHICH_END in self.lexicon.labels_of(start[-length:]):
                said = _say(start[:-length], self.lexicon)
                if said.named and not said.strange:
                    return self._repair(Repair.RESTRICTED_REQUEST, said)
        return None

    def _offer(self) -> Meaning | None:
        """A restricted offer in so many words: "do you mean the long one", and "this one" from those who look for it."""
        start = self._start()
        offered = self.lexicon.token_at(start, 0, frozenset({Label.REPAIR_OFFER})) if start else Token(())
        if offered.labels:
            said = _say(start[len(offered.words) :], self.lexicon)
            names = said.named or len(said.where) > 1
            return self._repair(Repair.RESTRICTED_OFFER, said) if names and not said.unknown else None
        said = _say(start, self.lexicon)
        points = Label.POINTING in said.labels and not said.pairs and not said.strange and not said.labels & _FORMS
        return self._repair(Repair.RESTRICTED_OFFER, said) if points and self._looks_for_it() else None

    def _looks_for_it(self) -> bool:
        return self.request_is_open and not self.describes and self.role in (Role.SUPPLIER, Role.BUILDER)

    def _bare_offer(self) -> Meaning | None:
        """A restricted offer by naming a piece, from one who does not ask for pieces: "the long one"."""
        if self.may_ask or not self._looks_for_it():
            return None
        said = _say(self.words, self.lexicon)
        fits = said.pairs and not said.strange and not said.labels & _FORMS and not said.exclaimed
        return self._repair(Repair.RESTRICTED_OFFER, said) if fits else None

    def _repair(self, repair: Repair, said: _Said) -> Meaning:
        return Meaning(Act.REPAIR, said.pairs, said.quantity, said.where, repair=repair)

    def _start(self) -> Phrase:
        """The words from the first that is no filler."""
        at = 0
        while at < len(self.words) and (token := self.lexicon.token_at(self.words, at, frozenset({Label.FILLER}))).labels:
            at += len(token.words)
        return self.words[at:]

    def _request(self) -> Meaning | None:
        if not self.may_ask:
            return None
        said = _say(self.words, self.lexicon)
        kinds = {kind for kind, _ in said.pairs}
        if any(Label.SOMEBODYS in token.labels for token in said.strange) and len(kinds) < 2:
            return None  # "give me my block"; but "my short blue block" is how "a short blue block" comes to the ear
        if self._asks(said) or self._places(said):
            return Meaning(Act.REQUEST, said.pairs, said.quantity, said.where)
        return None

    def _asks(self, said: _Said) -> bool:
        """Whether a piece of this plan is asked for, in a form that asks or by naming the piece and nothing else."""
        asked = Label.ASKING in said.labels
        if not said.named or said.elsewhere or said.headless and not (asked and said.where):
            return False
        if not self._is_of_this_plan(said):
            return False
        if len(said.strange) > (max(1, len(self.words) // WORDS_TO_A_STRANGE_ONE) if asked else 0):
            return False
        if not said.pairs:
            return asked and Label.POINTING in said.labels
        if asked:
            return True
        kinds = {kind for kind, _ in said.pairs}
        told = Label.TELLING not in said.labels or self.request_is_open or said.where or len(kinds) > 1
        return bool(told) and not said.exclaimed

    def _is_of_this_plan(self, said: _Said) -> bool:
        """Whether a piece of this plan can be meant: "the silver one" names a piece, "the small silver" may be anything."""
        if said.labels & {Label.PIECE, Label.POINTING}:
            return True
        known = map(self.lexicon.knows, said.pairs)
        has_noun = any(kind not in self.lexicon.lean_kinds for kind, _ in said.pairs)
        return any(known) if has_noun else bool(said.pairs) and all(known)

    def _places(self, said: _Said) -> bool:
        """Whether it is said where the piece goes that was asked for before: "put it in the middle"."""
        return self.request_is_open and bool(said.where) and not said.pairs and not said.strange


# --- what the adult says ---------------------------------------------------------------------------------------------------


def _adult(words: Phrase, lexicon: Lexicon) -> Meaning:
    prompt = _prompt(words, lexicon)
    opens_with_praise = _after(words, Label.PRAISE, lexicon) is not None
    praise = None if prompt is Prompt.DIRECT and not opens_with_praise else _praise(words, lexicon)
    if praise:
        return Meaning(Act.PRAISE, praise=praise, prompt=prompt if opens_with_praise else None)
    return Meaning(Act.PROMPT, prompt=prompt) if prompt else OTHER


def _praise(words: Phrase, lexicon: Lexicon) -> Praise | None:
    """Praise is specific when it names a behaviour of the one who is spoken to, and general otherwise."""
    if lexicon.find(words, Label.NO_PRAISE):
        return None
    frames = lexicon.find(words, Label.PRAISE_FRAME)
    undone = lexicon.find(words, Label.PRAISE_UNDONE)
    for named in lexicon.find(words, Label.PRAISE_NAMED):
        frame = max((at for at in frames if at <= named), default=None)
        if frame is not None and not any(frame - 1 <= at < named for at in undone):
            return Praise.SPECIFIC
    return Praise.GENERAL if any(at - 1 not in undone for at in lexicon.find(words, Label.PRAISE)) else None


def _prompt(words: Phrase, lexicon: Lexicon) -> Prompt | None:
    """How the sentence begins decides, once fillers, praise and a child's name are taken from its start."""
    thinking = 0 in lexicon.find(words, Label.PROMPT_THINKING)
    rest = _after(words, Label.PRAISE, lexicon)
    rest = words if rest is None else rest
    for start in _starts(rest, lexicon):
        if lexicon.token_at(start, 0, frozenset({Label.PROMPT_INDIRECT})).labels:
            return Prompt.INDIRECT
        if lexicon.token_at(start, 0, frozenset({Label.PROMPT_DIRECT})).labels:
            return Prompt.DIRECT
    return Prompt.INDIRECT if thinking and len(rest) > 1 else None


def _starts(words: Phrase, lexicon: Lexicon) -> Iterable[Phrase]:
    """Where a sentence may begin: at once, after its fillers, or after a name."""
    at = 0
    while at < len(words):
        yield words[at:]
        token = lexicon.token_at(words, at, frozenset({Label.FILLER, Label.PROMPT_THINKING}))
        if not token.labels:
            break
        at += len(token.words)
    if at < len(words) - 1 and not lexicon.token_at(words, at, frozenset({Label.NO_NAME})).labels:
        yield words[at + 1 :]
