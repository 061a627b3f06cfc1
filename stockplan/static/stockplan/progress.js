"use strict";
// Asks how far a long computation is and moves its bar; shows the page anew once it is over.
for (const box of document.querySelectorAll("[data-progress]")) {
    const bar = box.querySelector("progress");
    const words = box.querySelector("[data-words]");

    const look = async () => {
        try {
            const answer = await fetch(box.dataset.progress, { headers: { Accept: "application/json" } });
            const now = await answer.json();
            if (now.is_over) {
                location.reload();
                return;
            }
            if (now.in_all > 0) {
                bar.max = now.in_all;
                bar.value = now.done;
                words.textContent = words.dataset.words.replace("DONE", now.done).replace("ALL", now.in_all);
            }
        } catch {
            // The service is away for a moment, or the log-in has ended: the bar waits.
        }
        setTimeout(look, 2000);
    };
    setTimeout(look, 2000);
}
