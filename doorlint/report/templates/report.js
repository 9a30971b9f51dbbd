"use strict";
// Everything is on the page without this script; it lets rows be hidden on screen and tables be sorted.
(function () {
  const form = document.getElementById("filter");
  const status = document.getElementById("shown");
  const listed = Array.from(document.querySelectorAll("[data-f]"));
  const texts = new Map();

  function textOf(element) {
    if (!texts.has(element)) {
      texts.set(element, element.textContent.toLowerCase().replace(/\s+/g, " "));
    }
    return texts.get(element);
  }

  function apply() {
    const kinds = new Set(Array.from(form.querySelectorAll("[name=kind]:checked"), (box) => box.value));
    const every = kinds.size === form.querySelectorAll("[name=kind]").length;
    const level = form.elements.level.value;
    const wanted = form.elements.text.value.trim().toLowerCase().replace(/\s+/g, " ");
    const totals = new Map();
    for (const element of listed) {
      const tokens = element.dataset.f.split(" ");
      const fits = (every && !level) || tokens.some(function (token) {
        const [kind, own] = token.split("-");
        return kinds.has(kind) && (!level || own === level);
      });
      const stays = fits && (!wanted || textOf(element).includes(wanted));
      element.classList.toggle("out", !stays);
      if (element.dataset.sheet) {
        document.getElementById(element.dataset.sheet).classList.toggle("out", !stays);
      }
      const count = totals.get(element.dataset.g) || [0, 0];
      totals.set(element.dataset.g, [count[0] + (stays ? 1 : 0), count[1] + 1]);
    }
    status.textContent = Array.from(totals, ([name, [some, all]]) => `${name}: ${some} of ${all} shown`).join("; ");
    document.body.classList.toggle("brief", !form.elements.working.checked);
  }

  let waiting = 0;
  function soon() {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(apply, 120);
  }

  // A link to what the filter hides shows it again: a link that leads nowhere would mislead.
  function reveal() {
    const target = document.getElementById(decodeURIComponent(window.location.hash.slice(1)));
    if (target && target.closest(".out")) {
      form.reset();
      apply();
      target.scrollIntoView();
    }
  }

  function valueOf(row, column, numeric) {
    const cell = row.cells[column];
    if (!numeric) {
      return cell.textContent.trim().toLowerCase();
    }
    const value = cell.dataset.v;
    return value === undefined || value === "" ? Number.POSITIVE_INFINITY : Number(value);
  }

  function sort(table, header, column) {
    const rising = header.getAttribute("aria-sort") !== "ascending";
    const numeric = header.dataset.sort === "number";
    const words = new Intl.Collator("en", { numeric: true });
    const rows = Array.from(table.tBodies[0].rows, (row) => [valueOf(row, column, numeric), row]);
    rows.sort(function ([a], [b]) {
      // two rows without a number are equal; their difference would be no number
      const order = numeric ? (a === b ? 0 : a < b ? -1 : 1) : words.compare(a, b);
      return rising ? order : -order;
    });
    for (const other of table.tHead.rows[0].cells) {
      other.removeAttribute("aria-sort");
    }
    header.setAttribute("aria-sort", rising ? "ascending" : "descending");
    table.tBodies[0].append(...rows.map(([, row]) => row));
  }

  for (const table of document.querySelectorAll("table.sortable")) {
    Array.from(table.tHead.rows[0].cells).forEach(function (header, column) {
      if (!header.dataset.sort) {
        return;
      }
      const button = document.createElement("button");
      button.type = "button";
      button.append(...header.childNodes);
      header.append(button);
      button.addEventListener("click", () => sort(table, header, column));
    });
  }

  form.hidden = false;
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("change", apply);
  form.addEventListener("input", soon);
  form.addEventListener("reset", () => window.setTimeout(apply, 0));
  window.addEventListener("hashchange", reveal);
  apply();
})();
