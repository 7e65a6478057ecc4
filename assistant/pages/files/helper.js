// The helper page: shows the adult what Tray Turns tells, and sends what the adult wants. No rule of the club is in here.
import { level, live, make, picture, say, send } from "./live.js";

const part = (id) => document.getElementById(id);
let last = null; // the last tally, to be taken back

live((told) => {
  say(part("standing"), [told.plan, told.step || told.phase, told.swap].filter(Boolean).join(" · "));
  say(part("clock"), told.clock);
  say(part("note"), told.note);
  say(part("roles"), told.roles.map((role) => `${role.name}: ${role.title}`).join(" · "));
  part("over").hidden = !told.over;
  part("steer").hidden = told.over;
  part("shared").hidden = !told.shared;
  showStep(told);
  part("begin").hidden = told.phase !== "setting up";
  part("pause").hidden = told.paused;
  part("resume").hidden = !told.paused;
  showHint(told.hint);
  showSeats(told.roles);
  showTurns(told.turns);
  showLines(part("heard"), told.heard);
  showTallies(told.tallies);
  last = told.last;
  part("tally-back").disabled = !last;
  say(part("last"), last ? last.label : "");
  level(part("level"), told.level);
  showLines(part("sound"), told.sound);
});

function showStep(told) {
  part("picture").hidden = !told.picture;
  if (told.picture) picture(part("picture"), `step/${told.picture.step}.svg`, told.picture.alt);
  showLines(part("about"), told.about);
}

function showHint(hint) {
  part("no-hint").hidden = Boolean(hint);
  part("a-hint").hidden = !hint;
  say(part("hint-text"), hint ? hint.text : "");
  say(part("hint-seen"), hint ? hint.seen : "");
}

function showLines(list, lines) {
  while (list.children.length > lines.length) list.lastChild.remove();
  while (list.children.length < lines.length) list.append(make("li"));
  lines.forEach((line, index) => say(list.children[index], line));
}

// Rows stay the same elements while they are about the same thing, so that nobody loses the place where they are.
function keep(list, things, keyOf, makeOne, showOne) {
  const there = new Map([...list.children].map((row) => [row.dataset.key, row]));
  const rows = things.map((thing) => {
    const row = there.get(String(keyOf(thing))) ?? makeOne(thing);
    row.dataset.key = keyOf(thing);
    showOne(row, thing);
    return row;
  });
  for (const row of [...list.children]) if (!rows.includes(row)) row.remove();
  rows.forEach((row, index) => {
    if (list.children[index] !== row) list.insertBefore(row, list.children[index] ?? null);
  });
}

function button(order, text, label) {
  const made = make("button", { type: "button", textContent: text });
  if (label) made.setAttribute("aria-label", label);
  made.addEventListener("click", () => give(order));
  return made;
}

function showSeats(roles) {
  const seats = [...roles].sort((one, other) => (one.seat < other.seat ? -1 : 1));
  const makePass = (role) => button({ do: "pass", seat: role.seat }, role.name);
  keep(part("passing"), seats, (role) => role.seat, makePass, (made, role) => say(made, role.name));
  keep(part("name-fields"), seats, (role) => role.seat, makeName, () => {});
}

function makeName(role) {
  const label = make("label", { textContent: `${part("names").dataset.label.replace("{seat}", role.seat)} ` });
  const name = role.name === role.seat ? "" : role.name;
  label.append(make("input", { name: role.seat, maxLength: 24, value: name, autocomplete: "off" }));
  return label;
}

function showTurns(turns) {
  part("no-turns").hidden = turns.length > 0;
  keep(part("turns"), turns, (turn) => turn.unit, makeTurn, showTurn);
}

function makeTurn(turn) {
  const row = make("li");
  const choices = make("div", { className: "row" });
  for (const choice of turn.choices) choices.append(button({ do: "who", unit: turn.unit, seat: choice.seat }, choice.seat, choice.label));
  row.append(make("p"), make("p", { className: "quiet" }), choices);
  return row;
}

function showTurn(row, turn) {
  const [said, doing] = row.querySelectorAll("p");
  say(said, `${turn.at} ${turn.who}: ${turn.said}`);
  say(doing, turn.doing);
  turn.choices.forEach((choice, index) => {
    row.lastChild.children[index].setAttribute("aria-pressed", String(choice.seat === turn.seat));
  });
}

function showTallies(tallies) {
  keep(part("tallies"), tallies, (tally) => tally.what, makeTally, showTally);
}

function makeTally(tally) {
  const row = make("div", { className: "row" });
  row.append(make("p", { textContent: tally.label }));
  for (const one of tally.of) row.append(button({ do: "tally", seat: one.seat, what: tally.what }, "", one.label));
  return row;
}

function showTally(row, tally) {
  tally.of.forEach((one, index) => {
    const made = row.children[index + 1];
    say(made, one.text);
    made.setAttribute("aria-label", one.label);
  });
}

async function give(order) {
  const refused = await send(order);
  if (refused) say(part("note"), refused);
}

for (const made of document.querySelectorAll("button[data-do]")) {
  made.addEventListener("click", () => {
    give({ do: made.dataset.do });
    // The other of the two takes its place and the focus with it.
    if (made.id === "pause") part("resume").dataset.focus = "wanted";
    if (made.id === "resume") part("pause").dataset.focus = "wanted";
  });
}

new MutationObserver((changes) => {
  for (const { target } of changes) {
    if (target.hidden || target.dataset.focus !== "wanted") continue;
    delete target.dataset.focus;
    target.focus();
  }
}).observe(part("steer"), { attributes: true, attributeFilter: ["hidden"], subtree: true });

part("stop").addEventListener("click", () => askToStop(true));
part("stop-no").addEventListener("click", () => askToStop(false));

function askToStop(asking) {
  part("stop").hidden = asking;
  part("sure").hidden = !asking;
  part(asking ? "stop-no" : "stop").focus();
}

part("tally-back").addEventListener("click", () => last && give({ do: "tally back", seat: last.seat, what: last.what }));

part("names").addEventListener("submit", (event) => {
  event.preventDefault();
  const fields = [...part("names").querySelectorAll("input")];
  give({ do: "names", names: Object.fromEntries(fields.map((field) => [field.name, field.value])) });
});

// The same single keys as in the terminal; they can be switched off (WCAG 2.2, 2.1.4).
document.addEventListener("keydown", (event) => {
  if (!part("keys-on").checked || event.ctrlKey || event.altKey || event.metaKey || event.key.length !== 1) return;
  if (event.target.closest("input")) return;
  if (event.key === " " && event.target.closest("button, a")) return;
  event.preventDefault();
  if (event.key === "?" || event.key === "h") part("keys").hidden = !part("keys").hidden;
  else if (!event.repeat) give({ do: "key", key: event.key });
});
