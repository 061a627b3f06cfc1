"use strict";
// Counts down to the cut-off from the server's instant plus the time since the page came; the client's own clock,
// which may be wrong, plays no part.
for (const box of document.querySelectorAll("[data-countdown]")) {
    const left_at_load_s = Number(box.dataset.until) - Number(box.dataset.now);
    const clock = box.querySelector("[data-clock]");
    const two = (number) => String(number).padStart(2, "0");

    const show = () => {
        const left_s = Math.ceil(left_at_load_s - performance.now() / 1000);
        if (left_s <= 0) {
            clock.closest("[role=timer]").hidden = true;
            box.querySelector("[data-passed]").hidden = false;
            return;
        }
        const days = Math.floor(left_s / 86400);
        const hours = Math.floor((left_s % 86400) / 3600);
        const minutes = Math.floor((left_s % 3600) / 60);
        clock.textContent = `${days ? `${days} d ` : ""}${two(hours)}:${two(minutes)}:${two(left_s % 60)}`;
        setTimeout(show, 1000 - (performance.now() % 1000));
    };
    show();
}
