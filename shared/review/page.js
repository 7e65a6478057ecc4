// The review page: reading a bar by pointer or arrow keys, and larger or smaller. Nothing is loaded, nothing is sent.
const said = document.getElementById("said"), strips = document.getElementById("strips"), scroller = document.getElementById("scroll");
const bars = [...document.querySelectorAll(".bar")].sort((a, b) => a.dataset.at - b.dataset.at);
let at = -1, zoom = 1;

function show(place) {
  if (at >= 0) bars[at].classList.remove("on");
  at = place;
  bars[at].classList.add("on");
  said.textContent = bars[at].getAttribute("aria-label");
}

function size(by) {
  zoom = Math.min(8, Math.max(1, zoom * by));
  strips.style.width = zoom * 100 + "%";
}

strips.addEventListener("pointerover", (event) => {
  const bar = event.target.closest(".bar");
  if (bar) show(bars.indexOf(bar));
});
scroller.addEventListener("keydown", (event) => {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (step && bars.length) {
    event.preventDefault();
    show(Math.min(bars.length - 1, Math.max(0, at + step)));
    bars[at].scrollIntoView({ block: "nearest", inline: "nearest" });
  }
  if (event.key === "+") size(1.5);
  if (event.key === "-") size(1 / 1.5);
});
document.getElementById("larger").onclick = () => size(1.5);
document.getElementById("smaller").onclick = () => size(1 / 1.5);
