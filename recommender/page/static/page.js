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
