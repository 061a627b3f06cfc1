"use strict";
// A field for a code offers those that hold what was typed, as the server finds them. Without this script the code is
// typed in full.
const WAIT_MS = 150;

const offer = (field) => {
    const list = document.createElement("datalist");
    list.id = `offers-${field.id}`;
    field.after(list);
    field.setAttribute("list", list.id);
    let waiting;
    const ask = async () => {
        const url = new URL(field.dataset.offers, location.href);
        url.searchParams.set("q", field.value);
        const answer = await fetch(url);
        if (answer.ok && !answer.redirected) {
            list.innerHTML = await answer.text();
        }
    };
    field.addEventListener("focus", ask, { once: true });
    field.addEventListener("input", () => {
        clearTimeout(waiting);
        waiting = setTimeout(ask, WAIT_MS);
    });
};
document.querySelectorAll("input[data-offers]").forEach(offer);
