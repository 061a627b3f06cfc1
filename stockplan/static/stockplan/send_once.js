"use strict";
// Who presses a button again while the answer is on its way would do the same thing twice: a form is sent once. One
// whose answer stays away may be sent again.
const ANSWER_MS = 15000;
const sent = new Set();
document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post" || event.defaultPrevented) {
        return;
    }
    if (sent.has(form)) {
        event.preventDefault();
        return;
    }
    sent.add(form);
    setTimeout(() => sent.delete(form), ANSWER_MS);
});
// Pages that the browser kept come back as they were left.
window.addEventListener("pageshow", () => sent.clear());
