"use strict";
// Finds appear while somebody types: the server sends the same table that it puts into the page. Without this script
// the search button does it. An answer that a later one has overtaken is dropped.
const WAIT_MS = 120;
const field = document.querySelector("#search");
const found = document.querySelector("#found");
const said = document.querySelector("#said");
let asked = 0;

const show = async (url) => {
    asked += 1;
    const mine = asked;
    const part = new URL(url, location.href);
    part.searchParams.set("part", "found");
    const answer = await fetch(part);
    if (answer.redirected) {
        // Logged out meanwhile.
        location.reload();
        return;
    }
    const table = await answer.text();
    if (mine !== asked || !answer.ok) {
        return;
    }
    found.innerHTML = table;
    said.textContent = found.querySelector("[data-said]").textContent;
    showLater();
};

// When a run could bring what is short takes longer to find out: it comes after the table.
const showLater = () => {
    const later = found.querySelector("a[data-later]");
    if (later) {
        show(later.href);
    }
};

let waiting;
const look = () => {
    clearTimeout(waiting);
    const url = new URL(field.form.action);
    url.searchParams.set("q", field.value);
    history.replaceState(null, "", url);
    return show(url);
};
field.addEventListener("input", () => {
    clearTimeout(waiting);
    asked += 1;
    waiting = setTimeout(look, WAIT_MS);
});
// What was scanned or typed before gives way to the next scan, and what is written in the order stays.
field.form.addEventListener("submit", async (event) => {
    event.preventDefault();
    field.select();
    await look();
    // No goods are called exactly so: it may be the reference of an order, to whose page the server leads.
    if (!found.querySelector("tbody") || found.querySelector("[data-said] strong")) {
        const answer = await fetch(location.href);
        if (answer.redirected) {
            location.assign(answer.url);
        }
    }
});
field.select();
showLater();

// Spools go into the order with everything that is written in it so far, and into the one that this page shows: finds that
// came later may know of another.
document.addEventListener("submit", (event) => {
    if (!event.target.matches("form[data-into-order]")) {
        return;
    }
    event.target.elements.seen.value = found.dataset.seen;
    const order = document.querySelector("#order form");
    for (const [name, value] of order ? new FormData(order) : []) {
        if (!event.target.elements[name]) {
            event.target.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
        }
    }
});
