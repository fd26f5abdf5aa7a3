"use strict";
// a slider tells where it stands while it is drawn
document.addEventListener("input", (event) => {
  const shown = event.target.matches("input[type=range]") && document.getElementById(event.target.dataset.shown);
  if (shown) shown.textContent = event.target.value;
});
// no more than three stand side by side
document.addEventListener("change", (event) => {
  if (event.target.name !== "pick") return;
  const picked = document.querySelectorAll("input[name=pick]:checked");
  if (picked.length > 3) event.target.checked = false;
});
// what was pressed may be gone after it was answered: the keyboard goes on from the message, else from where it was
const MESSAGES = [".refusal[role=alert]", ".told[role=status]", ".changed", "#found-head", "#plan-head"]; // a refusal goes before what changed
const message = (within) => MESSAGES.map((one) => within.querySelector(one)).find(Boolean);
const named = (one) => `${one.name || ""}=${one.value || ""} ${one.textContent.trim()}`;
const goOn = (one) => {
  if (!one) return;
  if (!one.matches("a[href], button")) one.tabIndex = -1;
  one.focus();
};
let held = null;
document.addEventListener("htmx:beforeSwap", (event) => {
  const swapped = event.detail.target;
  held = swapped.contains(document.activeElement) ? swapped.id : null;
});
document.addEventListener("htmx:afterSettle", () => {
  const swapped = held && document.getElementById(held);
  held = null;
  if (!swapped || document.activeElement !== document.body) return;
  goOn(message(swapped) || swapped.querySelector("h2, p"));
});
// a PDF is some seconds in the making, and until it is there nothing else would say so
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-waiting]");
  if (!link || link.nextElementSibling?.matches(".waiting")) return;
  const told = document.createElement("span");
  told.className = "waiting quiet";
  told.setAttribute("role", "status");
  link.after(told);
  told.textContent = link.dataset.waiting;
  const gone = () => told.remove();
  setTimeout(gone, 20000); // where it is kept as a file, this page stays
  addEventListener("pagehide", gone, { once: true });
});
const PRESSED = "pressed";
const keep = (one) => sessionStorage.setItem(PRESSED, JSON.stringify([one.name || "", named(one)]));
document.addEventListener("submit", (event) => event.submitter && keep(event.submitter));
document.addEventListener("click", (event) => {
  const link = event.target.closest("main a[href]");
  if (link && link.pathname === location.pathname && !link.hash) keep(link);
});
addEventListener("pageshow", () => {
  const pressed = JSON.parse(sessionStorage.getItem(PRESSED) || "null");
  sessionStorage.removeItem(PRESSED);
  if (!pressed) return;
  const there = [...document.querySelectorAll("main :is(a[href], button)")];
  const alike = pressed[0] ? there.filter((one) => one.name === pressed[0]) : [];
  goOn(message(document) || there.find((one) => named(one) === pressed[1]) || alike.at(-1));
});
