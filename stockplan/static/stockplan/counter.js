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
field.addEventListener("input", () => {
    clearTimeout(waiting);
    asked += 1;
    waiting = setTimeout(() => {
        const url = new URL(location.pathname, location.href);
        url.searchParams.set("q", field.value);
        history.replaceState(null, "", url);
        show(url);
    }, WAIT_MS);
});
showLater();
