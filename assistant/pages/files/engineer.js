// The engineer page: the step that is being built, and covered again at each swap, for the next engineer.
import { live, picture, say } from "./live.js";

const part = (id) => document.getElementById(id);
let uncoveredIn = 0; // the round in which the picture was uncovered
let told = null;

live((news) => {
  if (told?.picture?.step !== news.picture?.step) part("help").open = false;
  told = news;
  show();
});

function show() {
  const open = Boolean(told.picture) && uncoveredIn === told.round;
  if (told.step) say(part("step"), told.step);
  say(part("uncover"), told.uncover);
  part("over").hidden = !told.over;
  part("wait").hidden = Boolean(told.picture) || told.over;
  part("uncover").hidden = !told.picture;
  part("covered").hidden = open;
  part("shown").hidden = !open;
  part("cover").hidden = !open;
  if (open) picture(part("picture"), `step/${told.picture.step}.svg`, told.picture.alt);
  say(part("words"), open ? told.help : "");
  part("help").hidden = !told.help;
}

part("uncover").addEventListener("click", () => {
  uncoveredIn = told.round;
  show();
  part("cover").focus();
});

part("cover").addEventListener("click", () => {
  uncoveredIn = 0;
  show();
  part("uncover").focus();
});
