// The line between a page and Tray Turns: snapshots come in, orders go out. Nothing is kept in the browser.
// A page that nobody looks at lets its line go (a browser has six for all its pages) and takes it up again when it is shown.

const lost = document.getElementById("lost");

export function live(show) {
  let line = null;
  let over = false;

  function open() {
    if (line || over || document.hidden) return;
    line = new EventSource("events");
    line.onmessage = (message) => {
      const told = JSON.parse(message.data);
      lost.hidden = true;
      show(told);
      if (told.over) {
        over = true;
        close();
      }
    };
    line.onerror = () => {
      lost.hidden = over;
      if (line.readyState === EventSource.CLOSED) {
        line = null;
        setTimeout(open, 1000);
      }
    };
  }

  function close() {
    if (line) line.close();
    line = null;
  }

  document.addEventListener("visibilitychange", () => (document.hidden ? close() : open()));
  window.addEventListener("pagehide", close);
  window.addEventListener("pageshow", open);
  open();
}

export async function send(order) {
  const body = JSON.stringify(order);
  const headers = { "Content-Type": "application/json" };
  try {
    const answer = await fetch("orders", { method: "POST", headers, body });
    return answer.ok ? "" : await answer.text();
  } catch {
    lost.hidden = false;
    return "";
  }
}

// A text is only touched when it changed, so that a screen reader says it once.
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function make(name, properties = {}) {
  return Object.assign(document.createElement(name), properties);
}

// An icon or step is only fetched when it is another one.
export function picture(image, address, alt) {
  if (image.getAttribute("src") !== address) image.src = address;
  if (image.alt !== alt) image.alt = alt;
}

// How loud it is: a bar, and in words.
export function level(box, told) {
  const percent = Math.round(100 * told.share);
  box.querySelector("svg").setAttribute("aria-valuenow", percent);
  box.querySelector("rect").setAttribute("width", `${percent}%`);
  say(box.querySelector("[role=status]"), told.said);
}
