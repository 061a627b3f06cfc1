"use strict";
// Alt+Up and Alt+Down move the run whose field has the focus; the places of its table follow, and what was done is read out.
// Without this file the number fields alone do it.
const form = document.getElementById("run-order");
const status = form.querySelector("[role=status]");
const rows_of = (body) => [...body.querySelectorAll("tr[data-key]")];
const place_of = (row) => row.querySelector("input.place");

function say(words, row) {
    const facts = { name: row.dataset.name, line: row.dataset.line, place: place_of(row).value };
    status.textContent = words.replace(/\{(\w+)\}/g, (_, name) => facts[name]);
}

function move(row, step) {
    const rows = rows_of(row.parentElement);
    const other = rows[rows.indexOf(row) + step];
    if (!other) return;
    if ("released" in row.dataset !== "released" in other.dataset) {
        say(form.dataset.stays, row);
        return;
    }
    const focused = document.activeElement;
    const places = rows.map((each) => place_of(each).value);
    if (step < 0) other.before(row);
    else other.after(row);
    rows_of(row.parentElement).forEach((each, at) => { place_of(each).value = places[at]; });
    focused.focus();
    say(form.dataset.moved, row);
}

form.addEventListener("keydown", (event) => {
    const step = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    const row = event.target.closest("tr[data-key]");
    if (!event.altKey || !step || !row) return;
    event.preventDefault();
    move(row, step);
});
