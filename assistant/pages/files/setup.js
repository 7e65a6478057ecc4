// The set-up page: shows the parts it is told, and sends the orders that go with them. What may follow what is not in here.
import { level, live, make, picture, say, send } from "./live.js";

const part = (id) => document.getElementById(id);
const id = (...names) => names.join("-").replaceAll(" ", "_");
let stage = null;
let at = "";

live((told) => {
  if (told.go) {
    location.replace(told.go);
    return;
  }
  say(part("place"), told.place);
  say(part("title"), told.title);
  say(part("about"), told.about);
  say(part("note"), told.note);
  part("back").hidden = !told.back;
  part("next").hidden = !told.next;
  showParts(told.parts);
  if (stage !== null && stage !== told.stage) {
    part("title").focus();
    scrollTo(0, 0);
  } else if (stage !== null && at !== told.at) {
    part("parts").lastChild?.scrollIntoView({ block: "nearest" }); // somebody else is asked: the answers come into sight
  }
  stage = told.stage;
  at = told.at;
});

// A part stays the same element while it is about the same thing; only what changed in it is touched.
function showParts(parts) {
  const there = new Map([...part("parts").children].map((element) => [element.dataset.key, element]));
  const shown = parts.map((told) => {
    const shape = SHAPES[told.kind](told);
    let element = there.get(told.key);
    if (!element || element.dataset.shape !== shape) {
      const fresh = MAKERS[told.kind](told);
      Object.assign(fresh.dataset, { key: told.key, shape });
      if (element) replace(element, fresh);
      element = fresh;
    }
    UPDATERS[told.kind]?.(element, told);
    return element;
  });
  for (const element of [...part("parts").children]) if (!shown.includes(element)) element.remove();
  shown.forEach((element, index) => {
    if (part("parts").children[index] !== element) part("parts").insertBefore(element, part("parts").children[index] ?? null);
  });
}

// Whoever is inside a part that is made anew stays at the same control, or at the first one that is left.
function replace(old, fresh) {
  const inside = old.contains(document.activeElement) ? document.activeElement.id : "";
  old.replaceWith(fresh);
  if (!inside) return;
  const next = part(inside) ?? fresh.querySelector("button:not(:disabled), input") ?? fresh;
  if (next === fresh) fresh.tabIndex = -1;
  next.focus();
}

const all = (told) => JSON.stringify(told);
const without = (...names) => (told) => JSON.stringify({ ...told, ...Object.fromEntries(names.map((name) => [name, null])) });

const SHAPES = {
  choice: without("value"),
  text: without("value", "wrong"),
  number: without("value", "wrong"),
  meter: without("share", "said"),
  lines: without("lines"),
  buttons: all,
  person: without("said", "left", "buttons"),
  passphrase: all,
};

const MAKERS = {
  choice(told) {
    const field = make("fieldset");
    const options = make("div", { className: told.options.some((option) => option.picture) ? "options pictured" : "options" });
    options.append(...told.options.map((option) => makeOption(told, option)));
    field.append(make("legend", { textContent: told.label }), options);
    return field;
  },
  text(told) {
    const field = told.rows > 1 ? make("textarea", { rows: told.rows }) : make("input", { type: "text" });
    Object.assign(field, { maxLength: told.longest, autocomplete: "off" });
    return labelled(told, field, { what: told.what, ...(told.seat && { seat: told.seat }) });
  },
  number(told) {
    const field = make("input", { type: "number", min: told.least, max: told.most, step: 1 });
    return labelled(told, field, { what: told.what });
  },
  meter(told) {
    const box = make("div", { className: "box" });
    box.append(part("meter").content.cloneNode(true));
    say(box.querySelector("p"), told.label);
    box.querySelector("svg").setAttribute("aria-label", told.label);
    return box;
  },
  lines(told) {
    const box = make("div", { className: "box" });
    if (told.live) box.setAttribute("role", "status");
    if (told.heading) box.append(make("p", { className: "heading", textContent: told.heading }));
    box.append(make(told.listed ? "ul" : "div", { className: told.listed ? "listed" : "spaced" }));
    return box;
  },
  buttons(told) {
    const row = make("div", { className: "row" });
    row.append(...told.buttons.map((one, index) => makeButton(one, id(told.key, index))));
    return row;
  },
  person(told) {
    const row = make("div", { className: "box person" });
    const buttons = make("div", { className: "row" });
    buttons.append(...told.buttons.map((one, index) => makeButton(one, id(told.key, index))));
    row.append(make("p", { role: "status" }), make("p", { className: "left" }), buttons);
    return row;
  },
  // What is typed here is sent once and cleared at once: it comes back from nowhere, and is no value of the page.
  passphrase(told) {
    const box = make("div", { className: "box passphrase" });
    box.append(make("p", { textContent: told.about }));
    const fields = told.fields.map((label, index) => {
      const field = make("input", { type: "password", autocomplete: "off", maxLength: told.longest, id: id(told.key, index) });
      const line = make("label", { className: "field", textContent: label });
      line.append(field);
      box.append(line);
      return field;
    });
    const button = make("button", { type: "button", id: id(told.key, "send"), textContent: told.send });
    function press() {
      const [passphrase, again] = fields.map((field) => field.value);
      give({ do: "unlock", passphrase, ...(again !== undefined && { again }), at });
      for (const field of fields) field.value = "";
      fields[0].focus();
    }
    onPress(button, press);
    fields.forEach((field, index) => {
      field.addEventListener("keydown", (event) => {
        if (event.key === "Enter" && !event.repeat) fields[index + 1] ? fields[index + 1].focus() : press();
      });
    });
    box.append(button);
    return box;
  },
};

const UPDATERS = {
  choice(field, told) {
    for (const input of field.querySelectorAll("input")) input.checked = input.value === told.value;
  },
  text: showValue,
  number: showValue,
  meter: level,
  lines(box, told) {
    const list = box.lastChild;
    box.hidden = told.lines.length === 0;
    while (list.children.length > told.lines.length) list.lastChild.remove();
    while (list.children.length < told.lines.length) list.append(make(told.listed ? "li" : "p"));
    told.lines.forEach((line, index) => say(list.children[index], line));
  },
  person(row, told) {
    say(row.firstChild, told.said);
    say(row.querySelector(".left"), told.left); // not in the status: a screen reader would speak into the microphone
    told.buttons.forEach((one, index) => showButton(row.lastChild.children[index], one));
  },
};

function makeOption(told, option) {
  const label = make("label", { className: "option" });
  const input = make("input", { type: "radio", name: id(told.key), value: option.value, id: id(told.key, option.value) });
  input.addEventListener("change", () => give({ do: "choose", what: told.key, value: option.value }));
  const words = make("span");
  words.append(make(option.lines ? "b" : "span", { textContent: option.label }));
  if (option.picture) {
    const image = make("img", { alt: "" });
    picture(image, option.picture, "");
    words.prepend(image);
  }
  for (const line of option.lines ?? []) words.append(make("small", { textContent: line }));
  if (option.caution) words.append(make("small", { className: "caution", textContent: option.caution }));
  label.append(input, words);
  return label;
}

function labelled(told, field, order) {
  const box = make("div", { className: "field" });
  const label = make("label", { textContent: told.label });
  const wrong = make("p", { className: "wrong", id: id("wrong", told.key) });
  field.id = id("field", told.key);
  field.setAttribute("aria-describedby", wrong.id);
  field.addEventListener("change", () => give({ do: "choose", value: field.value, ...order }));
  label.append(field);
  box.append(label, wrong);
  return box;
}

function showValue(box, told) {
  const field = box.querySelector("input, textarea");
  if (field.dataset.told !== told.value) field.value = told.value;
  field.dataset.told = told.value;
  field.setAttribute("aria-invalid", String(told.wrong !== ""));
  say(box.querySelector(".wrong"), told.wrong);
}

function makeButton(one, name) {
  const button = make("button", { type: "button", id: name });
  onPress(button, () => give({ ...JSON.parse(button.dataset.order), at }));
  showButton(button, one);
  return button;
}

function showButton(button, one) {
  say(button, one.label);
  button.dataset.order = JSON.stringify(one.order);
  button.setAttribute("aria-disabled", String(one.off));
}

// One order after the other: a field that is left by pressing Next is sent before Next is.
let sending = Promise.resolve();

function give(order) {
  sending = sending.then(async () => {
    const refused = await send(order);
    if (refused) say(part("note"), refused);
  });
}

// The second click of a double click would answer what comes next.
function onPress(button, press) {
  button.addEventListener("click", (event) => event.detail < 2 && press());
}

onPress(part("back"), () => give({ do: "back", at }));
onPress(part("next"), () => give({ do: "next", at }));
