"use strict";
// A form that takes longer says so, counts the seconds, and cannot be sent twice.
for (const form of document.querySelectorAll("form[data-busy]")) {
    form.addEventListener("submit", () => {
        const button = form.querySelector("button[type=submit]");
        const status = form.querySelector("[role=status]");
        const begun_ms = performance.now();
        button.disabled = true;
        status.textContent = form.dataset.busy;
        setInterval(() => {
            status.textContent = `${form.dataset.busy} ${Math.round((performance.now() - begun_ms) / 1000)} s`;
        }, 1000);
    });
}
for (const button of document.querySelectorAll("[data-print]")) {
    button.addEventListener("click", () => window.print());
}
