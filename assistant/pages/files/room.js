// The room page: what the children see. It shows what it is told, and sends nothing.
import { live, make, picture, say } from "./live.js";

const part = (id) => document.getElementById(id);
const LONG_NAME = 6; // letters that fit beside an icon in the largest type
const percent = (share) => `${(100 * share).toFixed(1)}%`;

live((told) => {
  part("told").dataset.moment = told.moment;
  picture(part("kind"), `icon/${encodeURIComponent(told.kind)}.svg`, "");
  say(part("words"), told.told);
  say(part("time"), told.time);
  say(part("step"), told.step ? `${told.step}.` : "");
  say(part("swap"), told.swap);
  part("left").setAttribute("width", percent(told.left));
  part("clearing").setAttribute("x1", percent(told.clearing));
  part("clearing").setAttribute("x2", percent(told.clearing));
  showRoles(told.roles);
});

// The places stay where they are; the names move between them.
function showRoles(roles) {
  const places = part("roles");
  if (places.children.length !== roles.length) places.replaceChildren(...roles.map(makePlace));
  roles.forEach((role, index) => {
    const place = places.children[index];
    place.dataset.role = role.role;
    picture(place.querySelector("img"), `icon/${role.role}.svg`, "");
    say(place.querySelector(".who"), role.name);
    place.querySelector(".who").classList.toggle("long", role.name.length > LONG_NAME);
    say(place.querySelector(".title"), role.title);
  });
}

function makePlace() {
  const place = make("li");
  place.append(make("img", { alt: "" }), make("p", { className: "who" }), make("p", { className: "title" }));
  return place;
}
