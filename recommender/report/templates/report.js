"use strict";
for (const table of document.querySelectorAll("table.sorted")) {
  const body = table.tBodies[0];
  for (const head of table.tHead.rows[0].cells) {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const rising = head.getAttribute("aria-sort") !== "ascending";
      const place = head.cellIndex;
      const key = (row) => row.cells[place].dataset.key ?? row.cells[place].textContent.trim();
      const order = (a, b) => {
        const [one, other] = [key(a), key(b)];
        const numbers = one !== "" && other !== "" && !isNaN(one) && !isNaN(other);
        const apart = numbers ? one - other : one.localeCompare(other);
        return rising ? apart : -apart;
      };
      body.append(...[...body.rows].sort(order));
      for (const cell of table.tHead.rows[0].cells) cell.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", rising ? "ascending" : "descending");
    });
  }
}
for (const fold of document.querySelectorAll("[data-fold]")) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "fold";
  const show = (open) => {
    fold.classList.toggle("folded", !open);
    button.setAttribute("aria-expanded", String(open));
    button.textContent = (open ? "Hide: " : "Show: ") + fold.dataset.fold;
  };
  button.addEventListener("click", () => show(fold.classList.contains("folded")));
  fold.before(button);
  show(false);
}
